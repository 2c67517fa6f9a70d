"""Surfaces through scattered values: relaxation on a pyramid of cells, from coarse to fine.

Each level of the pyramid starts from the one above it (cascadic multigrid: Bornemann and Deuflhard,
Numer. Math. 75:135, 1996, from memory) and takes some steps, each of every cell at once, so that
the result depends on no order of cells.
"""

from typing import NamedTuple

import numpy as np

from grading.kernels.primitives import compiled, inner
from grading.kernels.raw.runs import runs

STEPS, MOST_STEPS = 16, 96
"""Of colour: of the finest level, and of any; each takes twice as many as the finer one."""

SETTLING = 4
"""Plain steps at the end of a level."""

NEAR = np.float32(0.99)
"""How slowly the slowest part of an error is taken to fade in a plain step; sets the momentum."""

OBSERVED = np.float32(30)
"""What an observation of full weight weighs beside a neighbour."""

STIFF = np.float32(2)
"""By how much stiffer the green-magenta axis is than that from red to blue."""

FADING = 5.0
"""In longer sides of a frame, how far colour reaches before it fades to neutral where none is
known."""

LEAST = np.float32(1e-9)

PART, LONGEST = 64, 2048
"""Framed cells one after another that are worked on together, at least and at most."""


class Cells(NamedTuple):
    """Cells of a level of the pyramid, and how they pass on what they have.

    Attributes
    ----------
    shape : tuple of int
        Rows and columns.
    links : ndarray, shape (2, rows + 2, columns + 2), float32
        From `links_of`.
    places : ndarray, shape (runs, 2), uint64
        From `passing`.
    """

    shape: tuple
    links: np.ndarray
    places: np.ndarray


def pyramid_of(flow):
    """Levels of cells, from fine to coarse.

    Parameters
    ----------
    flow : ndarray, shape (rows, columns), float32
        How well a cell passes on what it has, 0 to 1; cells with 0 are left out.

    Returns
    -------
    list of Cells
    """
    levels = [flow]
    while min(levels[-1].shape) > 3:
        levels.append(halved(levels[-1]))
    return [Cells(flow.shape, links_of(flow), passing(flow)) for flow in levels]


def colours(ratios, weights, pyramid):
    """Stops from green to red and from green to blue of every cell, from ratios that some tell.

    With x and y for these stops, it minimises the sum of squares of the slopes of x - y (from blue
    to red) and, `STIFF` times as heavy, of x + y (from green to magenta, where light differs less),
    of the departures from what is observed, and of a little of both themselves.

    Parameters
    ----------
    ratios, weights : ndarray, shape (3, rows, columns), float32
        Stops from green to red, from green to blue and from blue to red, and what each weighs.
    pyramid : list of Cells
        From `pyramid_of`.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
    """
    levels = [(ratios, OBSERVED * weights)]
    while len(levels) < len(pyramid):
        ratios, weights = levels[-1]
        pairs = [shrunk(*pair) for pair in zip(ratios, 4 * weights, strict=True)]
        levels.append(tuple(np.stack(part) for part in zip(*pairs, strict=True)))
    state = np.zeros((2, *pyramid[-1].shape), np.float32)
    for k, (told, cells) in reversed(list(enumerate(zip(levels, pyramid, strict=True)))):
        state = np.stack([grown(plane, cells.shape) for plane in state])
        home = np.float32((1 / (FADING * max(cells.shape))) ** 2)
        state = _relaxed(state, *told, cells, home, min(STEPS * 2**k, MOST_STEPS))
    return np.stack(((state[0] + state[1]) / 2, (state[1] - state[0]) / 2))


def halved(values):
    """Means of 2x2 cells; an odd edge repeats its last cell."""
    rows, columns = values.shape
    out = np.empty((-(-rows // 2), -(-columns // 2)), np.float32)
    _halve(np.ascontiguousarray(values), out)
    return out


def shrunk(values, weight):
    """Weighted means of 2x2 cells, and the means of their weights."""
    total = halved(weight)
    return halved(values * weight) / np.maximum(total, LEAST), total


def grown(values, shape):
    """Bilinear from the centres of cells to those of cells of half the size."""
    if values.shape == shape:
        return values
    out = np.empty(shape, np.float32)
    _grow(np.ascontiguousarray(values), out)
    return out


@compiled
def _halve(values, out):
    rows, columns = values.shape
    tall = np.empty(columns + 1, np.float32)
    for i in range(out.shape[0]):
        above, below = values[2 * i], values[min(2 * i + 1, rows - 1)]
        for x in range(columns):
            tall[x] = above[x] + below[x]
        tall[columns] = tall[columns - 1]
        target = out[i]
        for x in range(target.size):
            target[x] = (tall[2 * x] + tall[2 * x + 1]) * np.float32(0.25)


@compiled
def _grow(values, out):
    size = values.shape[1]
    near, far = np.float32(0.75), np.float32(0.25)
    tall, wide = np.empty(size + 2, np.float32), np.empty(2 * size, np.float32)
    for i in range(out.shape[0]):
        beside = min(max(i // 2 + 2 * (i & 1) - 1, 0), values.shape[0] - 1)
        first, second = values[i // 2], values[beside]
        for x in range(size):
            tall[x + 1] = near * first[x] + far * second[x]
        tall[0], tall[-1] = tall[1], tall[-2]
        for x in range(size):
            wide[2 * x] = far * tall[x] + near * tall[x + 1]
            wide[2 * x + 1] = near * tall[x + 1] + far * tall[x + 2]
        target = out[i]
        for x in range(target.size):
            target[x] = wide[x]


def framed(planes):
    """Planes with a cell of 0 on each side, all cells of one after another."""
    rows, columns = planes.shape[-2:]
    framed = np.zeros((*planes.shape[:-2], rows + 2, columns + 2), planes.dtype)
    framed[..., 1:-1, 1:-1] = planes
    return framed.reshape(*planes.shape[:-2], -1)


def inside(cells, shape):
    """Planes of some shape, of framed cells one after another."""
    rows, columns = shape
    return cells.reshape(*cells.shape[:-1], rows + 2, columns + 2)[..., 1:-1, 1:-1]


def passing(flow):
    """Where cells that pass anything on are, among framed cells one after another.

    The others never change.

    Returns
    -------
    ndarray, shape (runs, 2), uint64
        The first cell of each run, and that after its last.
    """
    width, marked = flow.shape[1] + 2, framed(flow) > 0
    end = marked.size - width
    lines = np.pad(marked[width:end], (0, (2 * width - marked.size) % LONGEST))
    line, *ends = runs(lines.reshape(-1, LONGEST), PART).T
    places = np.minimum(width + line * LONGEST + ends, end).T
    return np.ascontiguousarray(places, np.uint64)


def _relaxed(state, ratios, weights, cells, home, steps):
    """Second-order Chebyshev steps (Golub and Varga, Numer. Math. 3:147, 1961, from memory)."""
    system = np.zeros((6, *cells.links.shape[1:]), np.float32)
    _set_up(ratios, weights, cells.links, home, system)
    links, system = cells.links.reshape(2, -1), system.reshape(6, -1)
    states, paces = np.stack([framed(state)] * 2), _paces(steps)
    _step(states, links, system, cells.places, cells.shape[1] + 2, paces)
    return inside(states[len(paces) % 2], cells.shape)


def _paces(steps):
    """Of some steps, and of a few plain ones, in which what is observed settles."""
    paces, shrinking = [1.0], float(NEAR) ** 2 / 4
    for k in range(1, steps):
        paces.append(1 / (1 - (2 if k == 1 else paces[-1]) * shrinking))
    return np.array((*paces, *[1.0] * SETTLING), np.float32)


def links_of(flow):
    """How well a cell passes on to that on its right and to that below, with a frame of 0."""
    flow = np.pad(flow, 1)
    links = np.zeros((2, *flow.shape), np.float32)
    np.minimum(flow[:, :-1], flow[:, 1:], out=links[0, :, :-1])
    np.minimum(flow[:-1], flow[1:], out=links[1, :-1])
    return links


@compiled
def _set_up(ratios, weights, links, home, system):
    """Of each cell, what it is by what it observes, and what its neighbours' sums add.

    In double precision, since a cell that observes one ratio has two equations that are almost one.
    """
    for i in range(1, system.shape[1] - 1):
        for j in range(1, system.shape[2] - 1):
            passed = links[0, i, j - 1] + links[0, i, j] + links[1, i - 1, j] + links[1, i, j]
            soft = np.float64(passed) * (1 + home) + LEAST
            stiff = STIFF * soft
            y, x = i - 1, j - 1
            first, second, third = weights[0, y, x], weights[1, y, x], weights[2, y, x]
            both, mixed = (first + second) / 4, (first - second) / 4
            told = first * ratios[0, y, x] / 2, second * ratios[1, y, x] / 2
            across = third * ratios[2, y, x] + told[0] - told[1]
            share = 1 / ((soft + third) * (stiff + both) + stiff * both + first * second / 4)
            a, b, d = (stiff + both) * share, -mixed * share, (soft + third + both) * share
            system[0, i, j], system[1, i, j], system[2, i, j] = a, STIFF * b, STIFF * d
            system[3, i, j] = a * across + b * (told[0] + told[1])
            system[4, i, j] = b * across + d * (told[0] + told[1])
            system[5, i, j] = b


@compiled
def _step(states, links, system, places, width, paces):
    """Solve each cell for its neighbours as they are, a step for each pace.

    Each step reads one of the two states and makes of the other the next.
    """
    along, across, width = links[0], links[1], np.uint64(width)
    a, b, d, e, told, other_told = system[0], system[1], system[2], system[5], system[3], system[4]
    sums = np.empty((2, LONGEST), np.float32)
    first, second = sums[0], sums[1]
    for step in range(paces.size):
        state, last = states[step & 1], states[~step & 1]
        soft, stiff, new_soft, new_stiff = state[0], state[1], last[0], last[1]
        for k in range(places.shape[0]):
            start, end = places[k, 0], places[k, 1]
            _add_neighbours(soft, along, across, width, start, end, first)
            _add_neighbours(stiff, along, across, width, start, end, second)
            _move(new_soft, told, a, b, first, second, paces[step], start, end)
            _move(new_stiff, other_told, e, d, first, second, paces[step], start, end)


@inner
def _add_neighbours(cells, along, across, width, start, end, total):
    one = np.uint64(1)
    for x in range(start, end):
        beside = along[x - one] * cells[x - one] + along[x] * cells[x + one]
        beside = beside + across[x - width] * cells[x - width]
        total[x - start] = beside + across[x] * cells[x + width]


@inner
def _move(last, told, a, b, first, second, pace, start, end):
    for x in range(start, end):
        solved = told[x] + a[x] * first[x - start] + b[x] * second[x - start]
        last[x] = last[x] + pace * (solved - last[x])
