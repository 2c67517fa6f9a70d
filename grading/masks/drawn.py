"""Drawn lines: points, straight or smooth from one to the next."""

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from grading.masks.shape import Ground, Place
from grading.stages.stage import Model

PIECES = 12
"""Straight pieces between two points of a smooth line; ours."""

MOST = 200
"""Points of a line."""


def places(least: int):
    """The type of a list of so many places at least."""
    return Annotated[list[Place], Field(min_length=least, max_length=MOST)]


class Drawn(Model):
    """A shape with ``points``, which lie in several places."""

    @model_validator(mode="after")
    def _several_places(self):
        if np.ptp(self.points, axis=0).max() < 1e-4:
            raise ValueError("the points are all in one place; draw them apart")
        return self


def line(points: list[list[float]], ground: Ground, smooth: bool, closed: bool) -> np.ndarray:
    """Points of straight pieces, in pixels.

    Parameters
    ----------
    points : list of [x, y]
        Fractions of the frame.
    ground : Ground
    smooth : bool
        Whether the line is bent through the points: a centripetal Catmull-Rom spline (Yuksel,
        Schaefer and Keyser, Computer-Aided Design 43:747, 2011), which makes no loops.
    closed : bool

    Returns
    -------
    ndarray, shape (n, 2), float64
        No two in a row are the same; the first and the last are where the line is closed.
    """
    pixels = np.array(points) * (ground.width, ground.height) - 0.5
    if closed:
        pixels = np.concatenate([pixels, pixels[:1]])
    pixels = _apart(pixels)
    if not smooth or len(pixels) < 3:
        return pixels
    if closed:
        wide = np.concatenate([pixels[-2:-1], pixels, pixels[1:2]])
    else:
        ends = 2 * pixels[:1] - pixels[1:2], 2 * pixels[-1:] - pixels[-2:-1]
        wide = np.concatenate([ends[0], pixels, ends[1]])
    bent = [_bent(*wide[i : i + 4]) for i in range(len(wide) - 3)]
    return _apart(np.concatenate([*bent, pixels[-1:]]))


def _apart(pixels):
    """Points without those that are nearer than a hundredth of a pixel to the one before."""
    kept = np.hypot(*np.diff(pixels, axis=0).T) > 0.01
    return pixels[np.concatenate([[True], kept])]


def _bent(before, start, end, after):
    """Points from `start` on, before `end`: Barry and Goldman's pyramid (SIGGRAPH 1988)."""
    knots = np.cumsum([0, *(np.linalg.norm(b - a) ** 0.5 for a, b in
                            ((before, start), (start, end), (end, after)))])  # fmt: skip
    t = knots[1] + (knots[2] - knots[1]) * np.arange(PIECES)[:, None] / PIECES

    def between(a, b, i, j):
        return (a * (knots[j] - t) + b * (t - knots[i])) / (knots[j] - knots[i])

    first, middle, last = (
        between(before, start, 0, 1), between(start, end, 1, 2), between(end, after, 2, 3)
    )  # fmt: skip
    return between(between(first, middle, 0, 2), between(middle, last, 1, 3), 1, 2)
