"""Every frame of a set opened once: measured, and shown small and at its sharpest place."""

from __future__ import annotations

import os
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from threading import Condition
from typing import Any

import numpy as np

from grading.colour.profiles import icc_profile
from grading.engine.execute import carry_out, render_part
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.errors import GradingError
from grading.evening.captured import Captured
from grading.files.formats.jpeg import encode_jpeg
from grading.files.originals import open_frame
from grading.inspect.measure import Measures, measure
from grading.pages.follow.cache import Closed, ResultCache
from grading.recipe.load import Recipe
from grading.region import Region

EDGE = 2048
"""Pixels of a picture's long edge at most; a 24 Mpx frame comes to 1500 x 1000."""

DETAIL = (640, 960)
"""Rows and columns of the original that are seen at a time in full."""

QUALITY, DETAIL_QUALITY = 82, 90

FULL = 3
"""Frames of full size that are kept open for a look at other places."""

MOST_OPEN = 2
"""Frames opened at a time."""


@dataclass(frozen=True)
class Looked:
    """What is known of a frame once it was opened.

    Attributes
    ----------
    picture, detail : bytes
        JPEG files: the whole frame made smaller, and its sharpest place pixel for pixel.
    measures : Measures or None
    place : tuple of float
        Middle of the detail, x and y as fractions of the frame.
    problem : str
        Why it cannot be opened, or shown by its look.
    """

    picture: bytes = field(default=b"", repr=False)
    detail: bytes = field(default=b"", repr=False)
    measures: Measures | None = None
    place: tuple[float, float] = (0.5, 0.5)
    problem: str = ""


class Opening:
    """Opens frames in order, those that are asked for first.

    Parameters
    ----------
    frames : sequence of Captured
    recipes : sequence of Recipe
        Of each frame, by which it is shown.
    **opening
        As `grading.open_frame` takes them.
    """

    def __init__(
        self, frames: Sequence[Captured], recipes: Sequence[Recipe], **opening: Any
    ) -> None:
        self.frames, self.recipes, self.opening = frames, recipes, opening
        self.found: dict[int, Looked] = {}
        self._waiting, self._news = list(range(len(frames))), Condition()
        self._closed = False
        self._full = ResultCache(self._whole, FULL)
        workers = min(MOST_OPEN, os.cpu_count() or 1)
        self._pool = ThreadPoolExecutor(workers)
        for _ in range(workers):
            self._pool.submit(self._work)

    def look(self, i: int) -> Looked:
        """What is known of a frame; waits until it was opened. Raises `Closed`."""
        self.ahead(i)
        with self._news:
            self._news.wait_for(lambda: i in self.found or self._closed)
            if i not in self.found:
                raise Closed
            return self.found[i]

    def ahead(self, *numbers: int) -> None:
        """Open these frames before others."""
        with self._news:
            for i in reversed(numbers):
                if i in self._waiting:
                    self._waiting.remove(i)
                    self._waiting.insert(0, i)

    def detail(self, i: int, place: tuple[float, float]) -> bytes:
        """A place of a frame pixel for pixel, as a JPEG file. Raises `GradingError`, `Closed`."""
        frame = self._full.get(i)
        return _detail(make_plan(resolve(self.recipes[i], frame), frame), place)

    def close(self) -> None:
        """Open nothing more."""
        with self._news:
            self._closed = True
            self._waiting.clear()
            self._news.notify_all()
        self._full.close()
        self._pool.shutdown(cancel_futures=True)

    def _work(self):
        while True:
            with self._news:
                if not self._waiting:
                    return
                i = self._waiting.pop(0)
            looked = self._looked(i)
            with self._news:
                self.found[i] = looked
                self._news.notify_all()

    def _looked(self, i):
        try:
            frame = self._whole(i)
            measures = measure(frame)
            place = measures.sharpest or (0.5, 0.5)
            resolved = resolve(self.recipes[i], frame)
            small = preview(frame, EDGE)
            (((codes, _),),) = carry_out([make_plan(resolved, small)], [Output()])
            picture = _jpeg(codes, QUALITY)
            detail = _detail(make_plan(resolved, frame), place)
        except GradingError as error:
            return Looked(problem=str(error))
        except Exception as error:  # one frame must not keep the others from being seen
            return Looked(problem=f"it failed unexpectedly ({type(error).__name__}: {error})")
        return Looked(picture, detail, measures, place)

    def _whole(self, i):
        return open_frame(self.frames[i].path, **self.opening)


def _detail(plan, place) -> bytes:
    columns, rows = plan.view.size
    height, width = min(DETAIL[0], rows), min(DETAIL[1], columns)
    top = int(np.clip(round(place[1] * rows - height / 2), 0, rows - height))
    left = int(np.clip(round(place[0] * columns - width / 2), 0, columns - width))
    codes = render_part(plan, Region(top, top + height, left, left + width))
    return _jpeg(codes, DETAIL_QUALITY)


def _jpeg(codes, quality):
    return encode_jpeg(codes, icc_profile("srgb"), None, quality)
