"""The frames of a shoot opened one after the other, and what levels them."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path
from typing import Any

from grading.errors import GradingError, RecipeError
from grading.evening.level.across import find_across
from grading.evening.level.corrections import Levelled, level_frames
from grading.evening.level.pairs import Ratio, find_pairs, read_ratios
from grading.evening.level.small import Small, small
from grading.evening.load import Evening
from grading.evening.model import Level
from grading.files.originals import open_frame

FEWEST = 2
"""Frames of one camera from which there is something to level."""

AT_ONCE = 2
"""Frames that are open at a time, for want of memory."""


@dataclass
class Known:
    """What was measured so far, which does not change while the frames stay the same.

    Attributes
    ----------
    small : dict from Path to Small or None
        None for a frame that cannot be opened.
    ratios : dict from tuple of Path to list of Ratio
        Of frames of one camera in order of capture.
    across : dict from tuple of tuple of Path to list of Ratio
        Of frames of two cameras.
    """

    small: dict[Path, Small | None] = field(default_factory=dict, repr=False)
    ratios: dict[tuple[Path, ...], list[Ratio]] = field(default_factory=dict, repr=False)
    across: dict[tuple[tuple[Path, ...], ...], list[Ratio]] = field(
        default_factory=dict, repr=False
    )


class Measuring:
    """Levels of a shoot's frames; iterating opens them, one a step.

    The course of the light is found for each camera by itself, and the courses are then set beside
    each other. A frame that cannot be opened is passed over: its rendering says why. So is one that
    does not say its time, which the shoot remarks. What is ``known`` is not measured again, and
    what is measured is added to it.
    """

    def __init__(
        self,
        evening: Evening,
        workers: int | None = None,
        known: Known | None = None,
        **opening: Any,
    ) -> None:
        self.evening, self.opening = evening, opening
        self.workers = workers or os.cpu_count()
        self._known = Known() if known is None else known
        self._timed = [frame for frame in evening.rendered if frame.time]
        if evening.rendered and not self._timed:
            raise RecipeError(
                "no frame says its time, which levelling needs",
                place=str(evening.path),
                remedy="leave out level, and courses by light",
            )

    def __len__(self):
        return len(self._timed)

    def __iter__(self) -> Iterator[None]:
        with ThreadPoolExecutor(min(self.workers, AT_ONCE)) as ahead:
            opening = [ahead.submit(self._open, frame) for frame in self._timed]
            try:
                for each in opening:
                    each.result()
                    yield
            finally:
                ahead.shutdown(wait=False, cancel_futures=True)

    def _open(self, captured):
        if captured.path in self._known.small:
            return
        try:
            found = small(open_frame(captured.path, **self.opening), captured)
        except GradingError:
            found = None
        self._known.small[captured.path] = found

    def levels(self) -> dict[str, Levelled]:
        """What was found of each frame, by its name; to be asked for once all are opened."""
        cameras = defaultdict(list)
        for captured in self._timed:
            if found := self._known.small[captured.path]:
                frame = replace(found, captured=captured)
                cameras[captured.capture.make, captured.capture.model].append(frame)
        settings = self.evening.model.level or Level()
        reference = settings.reference and self.evening.named(settings.reference)
        several = [frames for frames in cameras.values() if len(frames) >= FEWEST]
        if not several:
            return {}
        measured = [(frames, self._ratios(frames)) for frames in several]
        found = level_frames(measured, self._across(several), settings, reference)
        found.sort(key=lambda levelled: levelled.captured.number)
        return {levelled.captured.name: levelled for levelled in found}

    def _ratios(self, frames):
        key = tuple(frame.captured.path for frame in frames)
        if key not in self._known.ratios:
            with self._pool() as each:
                self._known.ratios[key] = read_ratios(frames, find_pairs(frames, each))
        return self._known.ratios[key]

    def _across(self, cameras):
        return {
            (a, b): self._between(cameras[a], cameras[b])
            for a, b in combinations(range(len(cameras)), 2)
        }

    def _between(self, one, two):
        key = tuple(tuple(frame.captured.path for frame in frames) for frames in (one, two))
        if key not in self._known.across:
            with self._pool() as each:
                self._known.across[key] = find_across(one, two, each)
        return self._known.across[key]

    @contextmanager
    def _pool(self):
        """What carries out functions on threads, and gives what they return in order."""
        with ThreadPoolExecutor(self.workers) as pool:
            yield lambda work: list(pool.map(lambda job: job(), work))
