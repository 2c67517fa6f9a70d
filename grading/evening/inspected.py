"""A set of originals, each opened once and measured, and what that says of them together."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any

from grading.errors import GradingError
from grading.evening.captured import Captured, in_order_of_capture
from grading.evening.marks import Entry
from grading.files.originals import open_frame
from grading.frame import Capture, Frame
from grading.inspect.measure import Measures, measure
from grading.inspect.series import Series, find_series
from grading.inspect.verdict import Verdict, notes, verdicts
from grading.sky.sun import Place, Sun, sun_at

REJECTED, SPARE = 1, 2
"""Marks that are proposed for a frame that something speaks against, and for those of a burst that
are not its sharpest."""

WORTH_TURNING = 0.1
"""Degrees from which on a lean is proposed to be straightened."""

AT_ONCE = 4
"""Frames that are open at a time, for want of memory."""


@dataclass(frozen=True)
class Inspected:
    """A frame of a set, and what was found.

    Attributes
    ----------
    captured : Captured
    measures : Measures or None
        None where it cannot be opened.
    problem : str or None
        Why it cannot.
    verdicts : list of Verdict
        What speaks against it.
    notes : list of str
    series : Series or None
        The burst or bracket that it is in; frames are numbered from 1, as ``captured.number``.
    sun : Sun or None
        None where time, zone or place are not known.
    picture : bytes
        What `Inspecting` was asked to make of it; nothing where it cannot be opened.
    """

    captured: Captured
    measures: Measures | None = field(repr=False)
    problem: str | None = None
    verdicts: list[Verdict] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    series: Series | None = None
    sun: Sun | None = None
    picture: bytes = field(default=b"", repr=False)

    @property
    def is_best(self) -> bool:
        """Whether it is the sharpest of its series."""
        return self.series is not None and self.series.best == self.captured.number


class Inspecting:
    """Measures originals; iterating opens them, one a step.

    Parameters
    ----------
    paths : sequence of Path
    workers : int, optional
        Frames at work at a time; as many as there are cores, 4 at most.
    picture : callable, optional
        Makes of a frame the bytes of a picture to be shown with its measures.
    **opening
        As `grading.files.originals.open_frame` takes them.
    """

    def __init__(
        self,
        paths: Sequence[Path],
        workers: int | None = None,
        picture: Callable[[Frame], bytes] = lambda frame: b"",
        **opening: Any,
    ) -> None:
        self.captured, self.opening, self._picture = in_order_of_capture(paths), opening, picture
        self.workers = min(workers or os.cpu_count() or 1, AT_ONCE)
        self._found: list[tuple[Measures, bytes] | GradingError] = []

    def __len__(self) -> int:
        return len(self.captured)

    def __iter__(self) -> Iterator[None]:
        with ThreadPoolExecutor(self.workers) as pool:
            waiting = [pool.submit(self._measured, each.path) for each in self.captured]
            try:
                for each in waiting:
                    self._found.append(each.result())
                    yield
            finally:
                pool.shutdown(wait=False, cancel_futures=True)

    def _measured(self, path):
        try:
            frame = open_frame(path, **self.opening)
            return measure(frame), self._picture(frame)
        except GradingError as error:
            return error

    def frames(self, place: Place | None = None, zone: tzinfo | None = None) -> list[Inspected]:
        """What was found, in order of capture; to be asked for once all are opened.

        Parameters
        ----------
        place : Place, optional
            Where the set was taken; else where each file says.
        zone : tzinfo, optional
            What the camera's clock showed; else what each file says.
        """
        pairs = list(zip(self.captured, self._found, strict=True))
        good = [(each, *found) for each, found in pairs if not isinstance(found, GradingError)]
        judged = _judged([measures for _, measures, _ in good], [each for each, _, _ in good])
        measured = {
            each.number: Inspected(
                each, measures, None, *said, sun_of(measures.capture, place, zone), picture
            )
            for (each, measures, picture), said in zip(good, judged, strict=True)
        }
        return [
            measured.get(each.number) or Inspected(each, None, str(found)) for each, found in pairs
        ]


def _judged(measures, captured):
    """Of each frame its verdicts, its notes and its series."""
    against = verdicts(measures)
    series_of = {}
    for series in find_series(measures, [bool(each) for each in against]):
        numbers = tuple(captured[i].number for i in series.frames)
        best = None if series.best is None else captured[series.best].number
        for i in series.frames:
            series_of[i] = Series(series.kind, numbers, best)
    return [
        (said, notes(frame), series_of.get(i))
        for i, (frame, said) in enumerate(zip(measures, against, strict=True))
    ]


def sun_of(capture: Capture, place: Place | None, zone: tzinfo | None) -> Sun | None:
    """Where the sun was; None where time, zone or place are not known.

    Parameters
    ----------
    capture : Capture
    place : Place, optional
        Wins over the file's own.
    zone : tzinfo, optional
        Of a time without an offset.
    """
    if place is None and None not in (capture.latitude, capture.longitude):
        place = Place(capture.latitude, capture.longitude)
    if place is None or capture.time is None:
        return None
    time = datetime.fromisoformat(capture.time)
    if time.tzinfo is None:
        if zone is None:
            return None
        time = time.replace(tzinfo=zone)
    return sun_at(time, place)


def proposals(frames: Sequence[Inspected]) -> dict[str, Entry]:
    """Marks and angles to propose, by the names of the frames; those without any are left out.

    A frame that something speaks against gets the lowest mark, one of a burst or of near-duplicates
    that is not the sharpest the next; brackets are kept whole.
    """
    found = {}
    for frame in frames:
        if frame.measures is None:
            continue
        mark = _proposed_mark(frame)
        lean = frame.measures.lean
        framing = None
        if lean and abs(lean.straighten) >= WORTH_TURNING:
            framing = {"straighten": round(lean.straighten, 1)}
        if mark or framing:
            found[frame.captured.name] = Entry(mark=mark, framing=framing, proposed=True)
    return found


def _proposed_mark(frame):
    whole = frame.series is not None and frame.series.best is None
    if frame.verdicts and not whole:
        return REJECTED
    if frame.series is not None and not whole and not frame.is_best:
        return SPARE
    return None
