"""A plain sea horizon: one straight line over the width of a frame, sky above it and water below.

A lens may bend a line that is far from the middle, to both sides alike, so that its slope is still
that of the horizon. A straight line alone says little: quays, decks and banks of cloud are
straight, too. Below must be water (`grading.inspect.water`), and no second line may run together
with this one. Whatever is in doubt gets no value. The limits are ours.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.courses import BENDS, Course, Strips, find_courses
from grading.inspect.water import BINS, water_below

LEAST_SIDE = 240
"""Pixels of a frame each way below which nothing is said."""

WIDTH_SEEN, THIRD_SEEN = 0.55, 0.15
"""Share of strips that a line must have, and that it must have in each third of the width."""

STRAIGHT, NEARLY = 0.15, 0.3
"""Pixels that the steps of a straight line deviate from it, and of one that may be straight."""

HIDDEN = 3
"""Where a part of a line is hidden, water must be plainer: the power of the share that is seen."""

BEND_DOUBT = 0.5
"""Pixels that the bow of a line may be greater than a lens makes it."""

WEAKEST, LIGHTER = 0.04, 0.6
"""Stops by which the sky is lighter than the water, and the share of strips in which it is: the sun
on the water may turn it about in the others, a dark shore does everywhere."""

TOGETHER, ANOTHER, UP, DOWN = 0.35, 0.8, 0.06, 0.2
"""Degrees from which on another line runs together with this one, its least share of strips, and
how far above and below it is looked for, as a share of all rows."""

ITSELF = 0.03
"""Degrees that a horizon is off by itself, refraction and distant coasts included."""


class Horizon(NamedTuple):
    """A sea horizon.

    ``lean`` is in degrees that it falls to the right, ``deviation`` that of it, ``share`` that of
    the width over which it is seen. One that is not ``sure`` has water below, but is not quite
    straight or runs together with another line: it proposes nothing and may contradict others.
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
    found = [
        (course, _is_sure(course, water, courses, strips))
        for course in courses
        if _may_be_horizon(course, strips)
        and (water := _water_below(course, strips, noise)).plain
    ]
    likely = [course for course, sure in found if sure] or [course for course, _ in found]
    if not likely:
        return None
    leans = [_lean(course, strips) for course in likely]
    sure = any(each for _, each in found) and max(leans) - min(leans) <= TOGETHER
    best = min(likely, key=Course.scatter)
    places = strips.along[best.good] * strips.size[1] / 2
    error = np.degrees(best.scatter() * np.sqrt(2 / np.square(places - places.mean()).sum()))
    deviation = float(np.hypot(error, ITSELF))
    return Horizon(_lean(best, strips), deviation, float(best.good.mean()), sure)


def _lean(course: Course, strips: Strips) -> float:
    """Degrees that it falls to the right."""
    return float(np.degrees(np.arctan(course.fall / (strips.size[1] / 2))))


def _water_below(course, strips, noise):
    rows = course.rows(strips.bins) + strips.reach
    return water_below(strips.means, noise, strips.width // BINS, rows, course.good)


def _may_be_horizon(course, strips):
    """Whether it is nearly straight over the width, but for what a lens makes of it, and steps
    down."""
    good = course.good
    if good.mean() < WIDTH_SEEN or min(g.mean() for g in np.array_split(good, 3)) < THIRD_SEEN:
        return False
    height = abs(course.row + strips.reach - strips.size[0] / 2)
    down = course.step[good]
    return (
        course.scatter() <= NEARLY * strips.unit
        and abs(course.bow) <= BENDS * height + BEND_DOUBT * strips.unit
        and np.median(down) < -WEAKEST
        and (down < 0).mean() >= LIGHTER
    )


def _is_sure(course, water, courses, strips):
    """Whether it is straight and alone, and water plain enough for what is hidden of it."""
    return (
        water.sure
        and course.scatter() <= STRAIGHT * strips.unit
        and water.plain * course.good.mean() ** HIDDEN >= 1
        and not _meets_another(course, courses, strips)
    )


def _meets_another(course, courses, strips):
    """Whether another straight line nearby runs together with it, as of a quay or a dike."""
    rows, columns = strips.size
    apart = columns / 2 * np.tan(np.radians(TOGETHER))
    return any(
        abs(other.fall - course.fall) > apart
        and -UP * rows < other.row - course.row < DOWN * rows
        and other.good.mean() >= ANOTHER
        and other.scatter() <= 0.2 * strips.unit
        for other in courses
    )
