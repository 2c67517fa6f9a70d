"""A plain sea horizon: one straight line over the width of a frame, sky above it and water below.

A lens may bend a line that is far from the middle, to both sides alike, so that its slope is still
that of the horizon. A straight line alone says little: quays, decks and banks of cloud are
straight, too. Below must be water (`grading.inspect.water`). Whatever is in doubt gets no value.
The limits are ours.
"""

from __future__ import annotations

from functools import partial
from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.courses import find_courses
from grading.inspect.water import BINS, water_below

LEAST_SIDE = 240
"""Pixels of a frame each way below which nothing is said."""

STRAIGHT = 0.15
"""Pixels that the steps of a straight line deviate from it."""

LIGHTER = 0.6
"""Share of strips in which the sky is lighter than the water: the sun on the water may turn it
about in the others, a dark shore does everywhere."""

HIDDEN = 3
"""Where a part of a line is hidden, water must be plainer: the power of the share that is seen."""

ITSELF = 0.03
"""Degrees that a horizon is off by itself, refraction and distant coasts included."""


class Horizon(NamedTuple):
    """A sea horizon.

    ``lean`` is in degrees that it falls to the right, ``deviation`` that of it, ``share`` that of
    the width over which it is seen. One that is not ``sure`` has below it what may be water: it
    proposes nothing and may contradict others.
    """

    lean: float
    deviation: float
    share: float
    sure: bool = True


def find_horizon(light: np.ndarray, noise: Noise) -> Horizon | None:
    """The sea horizon of a frame.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.

    Returns
    -------
    Horizon or None
        None where there is none.
    """
    if min(light.shape) < LEAST_SIDE:
        return None
    courses, strips = find_courses(light, noise)
    found = []
    for course in filter(partial(_may_be_horizon, strips=strips), courses):
        water = _water_below(course, strips, noise)
        if water.plain:
            hidden = water.plain * course.good.mean() ** HIDDEN < 1
            found.append((hidden or not water.sure, course.scatter(), course))
    if not found:
        return None
    unsure, scatter, best = min(found, key=lambda each: each[:2])
    places = strips.along[best.good] * strips.size[1] / 2
    error = np.degrees(scatter * np.sqrt(2 / np.square(places - places.mean()).sum()))
    deviation = float(np.hypot(error, ITSELF))
    return Horizon(_lean(best, strips), deviation, float(best.good.mean()), not unsure)


def _lean(course, strips):
    """Degrees that it falls to the right, where it is nearest to the middle of the frame: a lens
    bends it to both sides of there alike."""
    rows, columns = strips.size
    fall, below = course.fall, course.row + strips.reach - rows / 2
    nearest = -fall * below / ((columns / 2) ** 2 + fall**2)
    return float(np.degrees(np.arctan((fall + 2 * course.bow * nearest) / (columns / 2))))


def _water_below(course, strips, noise):
    rows = course.rows(strips.bins) + strips.reach
    return water_below(strips.means, noise, strips.width // BINS, rows, course.good)


def _may_be_horizon(course, strips):
    """Whether it is straight, but for what a lens makes of it, and steps down."""
    return (
        course.scatter() <= STRAIGHT * strips.unit
        and (course.step[course.good] < 0).mean() >= LIGHTER
    )
