"""Areas that lie on a grid seen in perspective."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from grading.calibrate.areas import Areas

LEAST = 8
"""Areas of a grid."""

_WIDEST = 12
_NEIGHBOURS = 4
_DISTANCES = (0.8, 2.4)
"""How far neighbours lie from each other, in roots of an area's pixels."""

_LIKE = 2.5
"""Ratio of the pixels of two neighbours, at most."""

_ASTRAY = 0.3
"""How far from its expected place an area may lie, as a share of the shorter step."""

_FOUR_WAYS = ((1, 0), (-1, 0), (0, 1), (0, -1))


def grids(areas: Areas) -> Iterator[dict[tuple[int, int], int]]:
    """Grids among areas, each grown from one of them.

    Parameters
    ----------
    areas : Areas

    Yields
    ------
    dict
        From (column, row), counted from wherever the growth began, to the number of an area.
        Columns and rows make a right-handed pair, as x and y of a picture do, and their steps are
        the shortest that the grid has.
    """
    done = set()
    for seed in range(len(areas.sizes)):
        if seed in done:
            continue
        for steps in _pairs_of_steps(areas, seed):
            grown = _grow(areas, seed, *steps)
            in_one_line = np.ptp([*grown], axis=0).min() == 0
            if len(grown) >= LEAST and not in_one_line and not done.issuperset(grown.values()):
                done.update(grown.values())
                yield _along_its_sides(grown, areas.centres[[*grown.values()]])


def _pairs_of_steps(areas, seed):
    """Steps to two neighbours that may be those along a row and along a column."""
    offsets = areas.centres - areas.centres[seed]
    distances = np.hypot(*offsets.T)
    side, ratios = np.sqrt(areas.sizes[seed]), areas.sizes / areas.sizes[seed]
    near = (distances > _DISTANCES[0] * side) & (distances < _DISTANCES[1] * side)
    near &= (ratios < _LIKE) & (ratios > 1 / _LIKE)
    found = np.flatnonzero(near)
    found = found[np.argsort(distances[found], kind="stable")][:_NEIGHBOURS]
    for first, second in permutations(found, 2):
        cross = offsets[first, 0] * offsets[second, 1] - offsets[first, 1] * offsets[second, 0]
        if cross > 0.6 * distances[first] * distances[second]:
            yield offsets[first], offsets[second]


def _grow(areas, seed, across, down):
    """A grid from one area and its two steps; each area found tells where the next should be."""
    placed, steps = {(0, 0): seed}, {(0, 0): (across, down)}
    taken, waiting = {seed}, deque([(0, 0)])
    while waiting:
        place = waiting.popleft()
        here = placed[place]
        for way in _FOUR_WAYS:
            there = (place[0] + way[0], place[1] + way[1])
            if there in placed or max(map(abs, there)) > _WIDEST:
                continue
            found = _nearest(areas, here, way, steps[place])
            if found is None or found in taken:
                continue
            placed[there], step = found, areas.centres[found] - areas.centres[here]
            along, sign = (0, way[0]) if way[0] else (1, way[1])
            steps[there] = tuple(
                sign * step if axis == along else each for axis, each in enumerate(steps[place])
            )
            taken.add(found)
            waiting.append(there)
    return placed


def _along_its_sides(grid, centres):
    """A grid counted along its shortest steps, in case it grew along a diagonal.

    They are found by the reduction of Lagrange and Gauss. Up to a tilt of 54 degrees about any
    axis, the diagonals of a square grid are longer than its sides.
    """
    places = np.array([*grid])
    across, down = np.linalg.lstsq(np.c_[places, np.ones(len(places))], centres, rcond=None)[0][:2]
    columns, rows = places.T
    while True:
        if down @ down < across @ across:
            across, down, columns, rows = down, -across, rows, -columns
        times = int(np.rint(across @ down / (across @ across)))
        if not times:
            counted = zip(columns.tolist(), rows.tolist(), strict=True)
            return dict(zip(counted, grid.values(), strict=True))
        down, columns = down - times * across, columns + times * rows


def _nearest(areas, here, way, steps):
    """The area where a step in one of the four ways leads, or None."""
    expected = areas.centres[here] + way[0] * steps[0] + way[1] * steps[1]
    distances = np.hypot(*(areas.centres - expected).T)
    found = int(distances.argmin())
    ratio = areas.sizes[found] / areas.sizes[here]
    astray = distances[found] > _ASTRAY * min(np.hypot(*steps[0]), np.hypot(*steps[1]))
    return None if astray or not 1 / _LIKE < ratio < _LIKE else found
