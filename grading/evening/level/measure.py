"""The frames of a shoot opened one after the other, and what levels them."""

from __future__ import annotations

import os
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

from grading.errors import GradingError, RecipeError
from grading.evening.level.corrections import Levelled, level_frames
from grading.evening.level.small import Small, small
from grading.evening.load import Evening
from grading.evening.model import Level
from grading.files.originals import open_frame

FEWEST = 2
"""Frames of one camera from which there is something to level."""


class Measuring:
    """Levels of a shoot's frames; iterating opens them, one a step.

    Frames of different cameras are levelled apart, for their colours cannot be compared. One that
    cannot be opened is passed over: its rendering says why.
    """

    def __init__(self, evening: Evening, workers: int | None = None, **opening: Any) -> None:
        self.evening, self.opening = evening, opening
        self.workers = workers or os.cpu_count()
        self._small: list[Small] = []
        for frame in evening.rendered:
            if frame.time is None:
                raise RecipeError(
                    f"frame {frame.path.name} does not say its time, which levelling needs",
                    place=str(evening.path),
                    remedy="leave that frame out, or leave out level",
                )

    def __len__(self):
        return len(self.evening.rendered)

    def __iter__(self) -> Iterator[None]:
        with ThreadPoolExecutor(1) as ahead:
            opening = [ahead.submit(self._open, frame) for frame in self.evening.rendered]
            for each in opening:
                found = each.result()
                self._small += [found] if found else []
                yield

    def _open(self, captured):
        try:
            return small(open_frame(captured.path, **self.opening), captured)
        except GradingError:
            return None

    def levels(self) -> dict[str, Levelled]:
        """What was found of each frame, by its name; to be asked for once all are opened."""
        cameras = defaultdict(list)
        for frame in self._small:
            cameras[frame.captured.capture.make, frame.captured.capture.model].append(frame)
        settings = self.evening.model.level or Level()
        reference = settings.reference and self.evening.named(settings.reference)
        with ThreadPoolExecutor(self.workers) as pool:

            def each(work):
                return list(pool.map(lambda job: job(), work))

            found = [
                levelled
                for frames in cameras.values()
                if len(frames) >= FEWEST
                for levelled in level_frames(frames, settings, reference, each)
            ]
        return {levelled.captured.name: levelled for levelled in found}
