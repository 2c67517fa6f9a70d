"""A thin plate with some tension through scattered levels, held above a floor.

It is found on a pyramid of cells, as `relax` has it, by steps down its slope with momentum.
"""

import numpy as np

from grading.kernels.primitives import compiled, inner
from grading.kernels.raw.relax import (
    LEAST,
    framed,
    grown,
    inside,
    shrunk,
)

HELD, MOMENTUM = np.float32(100), np.float32(0.8)
"""Of the plate: what an observation weighs, and the share of a step that is taken again."""

LENGTH, SHORTEST = 1 / 12, 16
"""Share of the longer side of a frame over which the plate loses a slope, and the least of it in
cells."""

BEND_STEPS = 60
"""Of the plate: of the finest level; the others take two or four times as many."""

NOWHERE, HIGHEST = np.float32(-20), np.float32(2.5)
"""A floor that is none, and the stops that the plate may rise above one."""


def plate(observed, weight, floor, pyramid):
    """A level for every cell: a thin plate with some tension over a floor.

    Parameters
    ----------
    observed, weight : ndarray, shape (rows, columns), float32
    floor : ndarray, shape (rows, columns), float32
        What the level lies on or above.
    pyramid : list of Cells
        From `pyramid_of`.

    Returns
    -------
    ndarray, shape (rows, columns), float32
    """
    levels = [(observed, HELD * weight, floor)]
    while len(levels) < len(pyramid):
        observed, weight, floor = levels[-1]
        levels.append((*shrunk(observed, 16 * weight), _coarse_floor(floor)))
    observed, weight, floor = levels[-1]
    mean = (observed * weight).sum() / max(weight.sum(), LEAST)
    level = np.maximum(np.full(floor.shape, mean, np.float32), floor)
    for k, (about, cells) in reversed(list(enumerate(zip(levels, pyramid, strict=True)))):
        level, steps = grown(level, cells.shape), BEND_STEPS * min(2**k, 4)
        tension = np.float32(max(LENGTH * max(cells.shape), SHORTEST / 2**k) ** -2)
        level = _bent(level, *about, cells, tension, steps)
    return level


def _coarse_floor(floor):
    """A floor under those of 2x2 cells of which most have one."""
    mean, share = shrunk(floor, (floor > NOWHERE).astype(np.float32))
    return np.where(share > 0.5, mean, NOWHERE)


def _bent(level, observed, weight, floor, cells, tension, steps):
    """Steps down the plate's slope with momentum, held above the floor."""
    links, places, width = cells.links.reshape(2, -1), cells.places, cells.shape[1] + 2
    top = np.where(floor > NOWHERE, floor + HIGHEST, -NOWHERE)
    about = framed(np.stack((observed, weight, floor, top)))
    levels = np.stack([framed(level)] * 2)
    _bend_all(levels, links, places, width, about, tension, steps)
    return inside(levels[steps % 2], cells.shape)


@compiled
def _bend_all(levels, links, places, width, about, tension, steps):
    """Some steps; each reads one of the two levels and makes of the other the next."""
    bend = np.zeros(levels.shape[1], np.float32)
    for step in range(steps):
        level, last = levels[step & 1], levels[~step & 1]
        _find_bend(level, links, places, width, bend)
        _bend(level, last, links, places, width, bend, about, tension)


@inner
def _find_bend(level, links, places, width, bend):
    """How far the neighbours lie above each cell, together."""
    along, across, width, one = links[0], links[1], np.uint64(width), np.uint64(1)
    for k in range(places.shape[0]):
        for x in range(places[k, 0], places[k, 1]):
            bend[x] = (
                along[x - one] * (level[x - one] - level[x])
                + along[x] * (level[x + one] - level[x])
                + across[x - width] * (level[x - width] - level[x])
                + across[x] * (level[x + width] - level[x])
            )


@inner
def _bend(level, last, links, places, width, bend, about, tension):
    """`last` becomes the next level."""
    along, across, width, one = links[0], links[1], np.uint64(width), np.uint64(1)
    seen, hold, low, high = about[0], about[1], about[2], about[3]
    four, two, least = np.float32(4), np.float32(2), np.float32(1e-6)
    for k in range(places.shape[0]):
        for x in range(places[k, 0], places[k, 1]):
            left, right, over, under = along[x - one], along[x], across[x - width], across[x]
            slope = left * (bend[x - one] - bend[x]) + right * (bend[x + one] - bend[x])
            slope = slope + over * (bend[x - width] - bend[x]) + under * (bend[x + width] - bend[x])
            slope = slope - tension * bend[x] + hold[x] * (level[x] - seen[x])
            passed = left + right + over + under
            stiff = passed * passed + four * passed + two * tension * passed + hold[x] + least
            moved = level[x] - slope / stiff + MOMENTUM * (level[x] - last[x])
            last[x] = min(max(moved, low[x]), high[x])
