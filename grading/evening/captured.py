"""The frames of a shoot before any is decoded: files, facts and order of capture."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from fnmatch import fnmatchcase
from pathlib import Path
from types import MappingProxyType

from grading.errors import OriginalError, RecipeError
from grading.files.metadata.exif import read_capture
from grading.frame import Capture
from grading.messages import listed, nearest, shortened
from grading.shoot.originals import find_originals


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
    behind : timedelta
        What is added to its camera's clock.
    moment : datetime or None
        Where it stands in the evening: its time, or of a frame that does not say it that of the one
        before it by name. None where no frame says it.
    """

    path: Path
    name: str
    number: int
    capture: Capture = field(repr=False, compare=False)
    behind: timedelta = field(default=timedelta(), repr=False, compare=False)
    moment: datetime | None = field(default=None, repr=False, compare=False)

    @property
    def time(self) -> datetime | None:
        """When it was taken: what the camera's clock showed, set right."""
        stated = self.capture.time
        if not stated:
            return None
        return datetime.fromisoformat(stated).replace(tzinfo=None) + self.behind


def originals_stated(
    names: Sequence[str], pairs: str, folder: Path, place: Callable[..., str]
) -> tuple[list[Path], list[str]]:
    """What `find_originals` finds of names in a shoot file.

    Parameters
    ----------
    names : sequence of str
    pairs : {"raw", "jpeg", "both"}
    folder : Path
        Where the shoot file lies.
    place : callable
        Gives the place of a value in the shoot file, for errors.

    Raises
    ------
    OriginalError
        If a name stands for nothing, with its place in the shoot file.
    """
    paths = [str(folder / name) for name in names]
    try:
        return find_originals(paths, pairs)
    except OriginalError as error:
        raise OriginalError(
            f"{error.place}: {error.problem}",
            place=place("originals", paths.index(error.place)),
            allowed=error.allowed,
            remedy=error.remedy,
        ) from None


def in_order_of_capture(
    paths: Sequence[Path], clocks: Mapping[str | None, timedelta] = MappingProxyType({})
) -> tuple[Captured, ...]:
    """Originals by the time on the camera's clock; one that does not say it stays where it comes.

    Parameters
    ----------
    paths : sequence of Path
        In natural order, which decides between frames of one moment.
    clocks : mapping from str to timedelta, optional
        What is added to the times of a camera, by its model.

    Raises
    ------
    OriginalError
        If a file cannot be read.
    """
    stems = Counter(path.stem for path in paths)
    names = (path.name if stems[path.stem] > 1 else path.stem for path in paths)
    frames = [
        Captured(path, name, 0, capture, clocks.get(capture.model, timedelta()))
        for path, name, capture in zip(paths, names, map(read_capture, paths), strict=True)
    ]
    placed = list(zip(_moments(frames), frames, strict=True))
    if any(frame.time for frame in frames):
        placed.sort(key=lambda each: each[0])
    return tuple(
        replace(frame, number=number, moment=moment)
        for number, (moment, frame) in enumerate(placed, 1)
    )


def _moments(frames):
    """The time of each, else that of the one before it that says it, or of the first that does."""
    times = [frame.time for frame in frames]
    known = next(filter(None, times), None)
    return [known := time or known for time in times]


def remarks_on_time(frames: Sequence[Captured]) -> list[str]:
    """A sentence on the frames that do not say their time, where others do."""
    names = [frame.path.name for frame in frames if frame.time is None]
    if not names or len(names) == len(frames):
        return []
    return [f"no time is stated in {listed(names)}: placed by name, and not levelled"]


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
