"""A plain sea horizon: one straight line over the width of a frame, sky above it and water below.

A lens may bend a line that is far from the middle, to both sides alike, so that its slope is still
that of the horizon. A straight line alone says little: quays, decks and banks of cloud are
straight, too. Below must be water (`grading.inspect.water`), in which little stands upright. All
other straight lines may be anything, and propose nothing. The limits are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.courses import find_courses
from grading.inspect.upright_lines import Line
from grading.inspect.water import BELOW, BINS, water_below

LEAST_SIDE = 240
"""Pixels of a frame each way below which nothing is said."""

STRAIGHT, LONG, SEEN = 0.2, 0.3, 0.6
"""Pixels that the steps of a straight line deviate from it; least share of the width over which it
is seen, and a sea horizon is."""

LIGHTER = 0.6
"""Share of strips in which the sky is lighter than the water: the sun on the water may turn it
about in the others, a dark shore does everywhere."""

STANDING, SHORT, PLACE = 1 / 3, 0.02, 30
"""Share of the width in which lines stand upright below a line from which on there are walls or
piles rather than water; rows of one that counts, as a share of the frame's; parts of the width."""

ITSELF, APART = 0.03, 0.3
"""Degrees that a horizon is off by itself, refraction and distant coasts included; degrees by which
two leans of one frame may differ, or three of their deviations."""


class Level(NamedTuple):
    """A straight line over much of the width, lighter above it or with what may be water below.

    ``lean`` is in degrees that it falls to the right, ``deviation`` that of it, ``share`` that of
    the width over which it is seen. It may be a ``horizon`` where it is lighter above and may have
    water below. Where it is not sure to be the ``sea``, it proposes nothing and may contradict.
    """

    lean: float
    deviation: float
    share: float
    horizon: bool = True
    sea: bool = True


def find_levels(light: np.ndarray, noise: Noise, lines: Sequence[Line] = ()) -> list[Level]:
    """What may be level in a frame, from the top down.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.
    lines : sequence of Line
        What is nearly upright in it.

    Returns
    -------
    list of Level
    """
    if min(light.shape) < LEAST_SIDE:
        return []
    courses, strips = find_courses(light, noise)
    straight = sorted(filter(partial(_is_straight, strips=strips), courses), key=attrgetter("row"))
    levels = [_level(course, strips, noise, lines) for course in straight]
    return only_uppermost([level for level in levels if level])


def only_uppermost(levels: list[Level]) -> list[Level]:
    """The same lines; the sea is none that has another above it which leans otherwise and may be
    the horizon: what is straight below a horizon is a quay or a deck.

    Examples
    --------
    >>> horizon, deck = Level(1.0, 0.05, 0.9, sea=False), Level(3.0, 0.05, 0.9)
    >>> [level.sea for level in only_uppermost([horizon, deck])]
    [False, False]
    >>> [level.sea for level in only_uppermost([deck, horizon])]
    [True, False]
    """
    kept, horizons = [], []
    for level in levels:
        contradicted = any(differ(level.lean, level.deviation, above) for above in horizons)
        kept.append(level._replace(sea=level.sea and not contradicted))
        if level.horizon:
            horizons.append(level)
    return kept


def differ(lean: float, deviation: float, level: Level) -> bool:
    """Whether a lean is not that of a line.

    Examples
    --------
    >>> differ(1.0, 0.05, Level(1.2, 0.05, 0.9)), differ(1.0, 0.05, Level(1.4, 0.05, 0.9))
    (False, True)
    """
    return abs(lean - level.lean) > max(APART, 3 * np.hypot(deviation, level.deviation))


def _level(course, strips, noise, lines):
    """It as a level, or None where it is darker above and no water is below."""
    lighter = (course.step[course.good] < 0).mean() >= LIGHTER
    rows = course.rows(strips.bins) + strips.reach
    water = water_below(strips.means, noise, strips.width // BINS, rows, course.good)
    if not (lighter or water.plain):
        return None
    places = strips.along[course.good] * strips.size[1] / 2
    squares = np.square(places - places.mean()).sum()
    error = np.degrees(course.scatter() * np.sqrt(2 / squares))
    share = float(course.good.mean())
    horizon = bool(lighter and water.plain)
    sea = horizon and water.sure and share >= SEEN and _standing(course, strips, lines) < STANDING
    return Level(_lean(course, strips), float(np.hypot(error, ITSELF)), share, horizon, sea)


def _lean(course, strips):
    """Degrees that it falls to the right, where it is nearest to the middle of the frame: a lens
    bends it to both sides of there alike."""
    rows, columns = strips.size
    fall, below = course.fall, course.row + strips.reach - rows / 2
    nearest = -fall * below / ((columns / 2) ** 2 + fall**2)
    return float(np.degrees(np.arctan((fall + 2 * course.bow * nearest) / (columns / 2))))


def _is_straight(course, strips):
    """Whether it is straight, but for what a lens makes of it, and long."""
    return course.scatter() <= STRAIGHT * strips.unit and course.good.mean() >= LONG


def _standing(course, strips, lines):
    """Share of the width in which lines stand below it, as near as its water is looked at."""
    rows = strips.size[0]
    deep, places = BELOW[-1] * rows, set()
    for line in lines:
        begin = course.rows(line.place) + strips.reach
        below = min(line.bottom, begin + deep) - max(line.top, begin)
        if below > SHORT * rows:
            places.add(int(PLACE / 2 * (line.place + 1)))
    return len(places) / PLACE
