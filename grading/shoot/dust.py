"""Dust on a sensor, found in the frames of a card, as a recipe that mends it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from grading.errors import GradingError, OriginalError
from grading.files.originals import open_frame
from grading.inspect.dust import EDGE, Dust, Search
from grading.pixels import as_stored
from grading.terminal import visible

_HEAD = """\
# Dust on the sensor of {camera}, found by `grading spots` in {scenes} scenes.
# A recipe beside this file mends it by
#   extends: {name}
# or the spots below go into a recipe, or into the notes of a group in a shoot file.
grading: 1
title: Dust of {camera}
"""


class CardSearch:
    """The search for dust in the frames of one camera; to be iterated once, frame by frame.

    Parameters
    ----------
    paths : sequence of Path
    **opening
        As `grading.files.originals.open_frame` takes them.

    Attributes
    ----------
    camera : str or None
        By the first frame that could be opened.
    errors : list of GradingError
        Of frames that could not be, or are of another camera or size.
    """

    def __init__(self, paths: Sequence[Path], **opening: Any) -> None:
        self._paths, self._opening, self._search = paths, opening, Search()
        self.camera, self._shape, self.errors = None, None, []

    def __len__(self) -> int:
        return len(self._paths)

    def __iter__(self) -> Iterator[Path]:
        for path in self._paths:
            try:
                self._add(open_frame(path, **self._opening))
            except GradingError as error:
                self.errors.append(error)
            yield path

    def _add(self, frame):
        light = frame.reduced(frame.factor_to(EDGE))
        stored = as_stored(light.transpose(1, 2, 0), frame.facts.orientation).transpose(2, 0, 1)
        camera = frame.facts.capture.camera or "a camera that the files do not name"
        if self._shape is None:
            self.camera, self._shape = camera, stored.shape
        if (camera, stored.shape) != (self.camera, self._shape):
            raise OriginalError(
                f"a frame of {camera}, or of another size than the first",
                place=str(frame.facts.path),
                allowed=f"frames of one sensor, here that of {self.camera}",
                remedy="look for the dust of each camera by itself",
            )
        self._search.add(np.ascontiguousarray(stored))

    @property
    def scenes(self) -> int:
        """How many different scenes the frames show."""
        return self._search.scenes

    def dust(self) -> list[Dust]:
        """The spots, once all frames are opened."""
        return self._search.dust()


def dust_text(dust: Sequence[Dust], camera: str, scenes: int, name: str) -> str:
    """Text of a recipe that mends dust.

    Parameters
    ----------
    dust : sequence of Dust
    camera : str
    scenes : int
        In which it was looked for.
    name : str
        Of the file.
    """
    head = _HEAD.format(camera=visible(camera), scenes=scenes, name=visible(name))
    if not dust:
        return head
    lines = (
        f"    - {{at: [{spot.x:.5f}, {spot.y:.5f}], radius: {spot.radius:.5f}}}"
        f"  # in {spot.frames} scenes, {spot.depth:.0%} of the light\n"
        for spot in dust
    )
    return head + "spots:\n  dust:\n" + "".join(lines)
