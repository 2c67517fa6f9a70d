"""Dust on a sensor, found in the frames of a card, as a recipe that mends it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from textwrap import indent
from typing import Any

import numpy as np

from grading.errors import GradingError, OriginalError
from grading.files.originals import open_frame
from grading.inspect.dust import EDGE, Dust, Search
from grading.pixels import as_stored
from grading.terminal import visible
from grading.yaml_text import dump_yaml

_HEAD = """\
# Dust on the sensor of {named}, found by `grading spots` in {scenes} scenes.
# A recipe beside this file mends it by
#   extends: {name}
# and a shoot file by
#   spots: {name}
# in frames of this camera alone.
grading: 1
{title}"""


class CardSearch:
    """The search for dust in the frames of one camera; to be iterated once, frame by frame.

    Parameters
    ----------
    paths : sequence of Path
    **opening
        As `grading.files.originals.open_frame` takes them.

    Attributes
    ----------
    camera, serial : str or None
        Make and model in one, and serial number, by the first frame that could be opened.
    errors : list of GradingError
        Of frames that could not be, or are of another camera or size.
    """

    def __init__(self, paths: Sequence[Path], **opening: Any) -> None:
        self._paths, self._opening, self._search = paths, opening, Search()
        self.camera, self.serial, self._shape, self.errors = None, None, None, []

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
        capture = frame.facts.capture
        if self._shape is None:
            self.camera, self.serial, self._shape = capture.camera, capture.serial, stored.shape
        first = self.camera, self.serial, self._shape
        if (capture.camera, capture.serial, stored.shape) != first:
            raise OriginalError(
                f"a frame of {_named(capture.camera, capture.serial)}, or of another size than the"
                " first",
                place=str(frame.facts.path),
                allowed=f"frames of one sensor, here that of {_named(self.camera, self.serial)}",
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


def _named(camera, serial):
    """A camera in words."""
    model = visible(camera) if camera else "a camera that the files do not name"
    return f"{model}, serial number {visible(serial)}" if serial else model


def dust_text(
    dust: Sequence[Dust], camera: str | None, serial: str | None, scenes: int, name: str
) -> str:
    """Text of a recipe that mends dust.

    Parameters
    ----------
    dust : sequence of Dust
    camera, serial : str or None
        Make and model, and serial number, as the files state them.
    scenes : int
        In which it was looked for.
    name : str
        Of the file.
    """
    named = _named(camera, serial)
    title = dump_yaml({"title": f"Dust of {visible(camera or 'a camera')}"})
    head = _HEAD.format(named=named, title=title, scenes=scenes, name=visible(name))
    if not dust:
        return head
    lines = (
        f"    - {{at: [{spot.x:.5f}, {spot.y:.5f}], radius: {spot.radius:.5f}}}"
        f"  # in {spot.frames} scenes, {spot.depth:.0%} of the light\n"
        for spot in dust
    )
    owner = {key: value for key, value in (("camera", camera), ("serial", serial)) if value}
    stated = indent(dump_yaml(owner), "  ") if owner else ""
    return head + "spots:\n" + stated + "  dust:\n" + "".join(lines)
