"""The frames of a shoot before any is decoded: files, facts and order of capture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from fnmatch import fnmatchcase
from pathlib import Path

from grading.errors import RecipeError
from grading.files.metadata.exif import read_capture
from grading.frame import Capture
from grading.messages import nearest, shortened


@dataclass(frozen=True)
class Captured:
    """An original of a shoot.

    Attributes
    ----------
    path : Path
    name : str
        What notes call it: the file's name without its ending, or with it where two share the
        stem.
    number : int
        Its place in the order of capture, from 1.
    capture : Capture
    """

    path: Path
    name: str
    number: int
    capture: Capture = field(repr=False, compare=False)

    @property
    def time(self) -> datetime | None:
        """When it was taken, as the camera's clock showed it."""
        stated = self.capture.time
        return datetime.fromisoformat(stated).replace(tzinfo=None) if stated else None


def in_order_of_capture(paths: Sequence[Path]) -> tuple[Captured, ...]:
    """Originals by the time on the camera's clock, or as they come where one does not say it.

    Parameters
    ----------
    paths : sequence of Path
        In natural order, which decides between frames of one moment.

    Raises
    ------
    OriginalError
        If a file cannot be read.
    """
    frames = [Captured(path, path.stem, 0, read_capture(path)) for path in paths]
    if all(frame.time for frame in frames):
        frames.sort(key=lambda frame: frame.time)
    stems = Counter(frame.name for frame in frames)
    return tuple(
        Captured(
            frame.path,
            frame.path.name if stems[frame.name] > 1 else frame.name,
            number,
            frame.capture,
        )
        for number, frame in enumerate(frames, 1)
    )


def frame_named(frames: Iterable[Captured], name: str, place: str) -> Captured:
    """The frame that a shoot file calls by its name, with or without the file's ending.

    Raises
    ------
    RecipeError
        If there is none.
    """
    by_name = {each: frame for frame in frames for each in (frame.path.name, frame.name)}
    if name in by_name:
        return by_name[name]
    close = nearest(name, by_name)
    raise RecipeError(
        f"there is no frame {shortened(name)} among the originals",
        place=place,
        remedy=f"did you mean {close}?" if close else "take the name of one of the files",
    )


def frames_matching(frames: Sequence[Captured], pattern: str, place: str) -> list[Captured]:
    """The frames of a name, or of a pattern with ``*``, ``?`` or ``[``.

    Raises
    ------
    RecipeError
        If there is none.
    """
    found = [
        frame
        for frame in frames
        if fnmatchcase(frame.name, pattern) or fnmatchcase(frame.path.name, pattern)
    ]
    return found or [frame_named(frames, pattern, place)]


def run_of_frames(frames: Sequence[Captured], ends: Sequence[str], place: str) -> list[Captured]:
    """The first and the last of a run, by name, and all between them in order of capture.

    Raises
    ------
    RecipeError
        If one of them is no frame.
    """
    first, last = sorted(frame_named(frames, name, place).number for name in ends)
    return list(frames[first - 1 : last])
