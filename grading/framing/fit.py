"""The largest box within a turned frame, and the place for a box that is nearest to a wish."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from grading.framing.view import NEARLY, WHOLE, Box, View

ALONG = 33
"""Places along each side of a frame whose lens distorts."""


class Bounds:
    """The turned frame as four straight sides, none of which cuts off less than the frame does.

    Parameters
    ----------
    view : View
        Its box does not count.
    """

    def __init__(self, view: View) -> None:
        self.width, self.height = view.width, view.height
        whole = replace(view, box=WHOLE)
        sides = [np.stack(whole.pixels_to_picture(*side)) for side in _sides(view)]
        chords = np.array([side[:, -1] - side[:, 0] for side in sides])
        outwards = np.stack([chords[:, 1], -chords[:, 0]], axis=1)
        self._normals = outwards / np.linalg.norm(outwards, axis=1, keepdims=True)
        self._limits = np.array(
            [(normal @ side).min() for normal, side in zip(self._normals, sides, strict=True)]
        )

    def largest(self, aspect: float) -> float:
        """Height in pixels of the largest box of an aspect, width to height."""
        constraints = np.column_stack([self._normals, self._reach(aspect)])
        heights = [
            corner[2]
            for corner in _crossings(constraints, self._limits)
            if (constraints @ corner <= self._limits + NEARLY).all()
        ]
        return max(heights)

    def box(self, aspect: float, height: float, wish: Sequence[float]) -> Box:
        """A box whose middle is as near to a wish as the sides let it, in fractions.

        Parameters
        ----------
        aspect, height : float
            Of the box; the height, in pixels, no more than `largest` gives.
        wish : sequence of two float
            In pixels of the turned picture.
        """
        limits = self._limits - height * self._reach(aspect)
        x, y = self._nearest(np.array(wish, np.float64), limits)
        half_width, half_height = aspect * height / 2, height / 2
        return (
            (x - half_width) / self.width,
            (y - half_height) / self.height,
            (x + half_width) / self.width,
            (y + half_height) / self.height,
        )

    def _reach(self, aspect):
        """How far a box of height 1 reaches from its middle towards each side."""
        return (np.abs(self._normals) @ (aspect, 1)) / 2

    def _nearest(self, wish, limits):
        over = self._normals @ wish - limits
        on_sides = wish - over[:, None] * self._normals
        choices = [wish, *on_sides, *_crossings(self._normals, limits)]
        beyond = [max((self._normals @ each - limits).max(), NEARLY) for each in choices]
        return min(
            zip(beyond, choices, strict=True),
            key=lambda each: (round(each[0], 3), np.linalg.norm(each[1] - wish)),
        )[1]


def _sides(view: View) -> Iterator[tuple[np.ndarray, np.ndarray]]:
    """Places along each side of the frame, clockwise."""
    way = np.linspace(0, 1, 2 if view.warp is None else ALONG)
    width, height = view.width, view.height
    yield way * width, 0 * way
    yield 0 * way + width, way * height
    yield (1 - way) * width, 0 * way + height
    yield 0 * way, (1 - way) * height


def _crossings(rows: np.ndarray, limits: np.ndarray) -> Iterator[np.ndarray]:
    """Where as many constraints as there are unknowns hold exactly."""
    for some in map(list, combinations(range(len(rows)), rows.shape[1])):
        if abs(np.linalg.det(rows[some])) > 1e-9:
            yield np.linalg.solve(rows[some], limits[some])
