"""Surfaces through scattered values: relaxation on a pyramid of cells, from coarse to fine.

Each level of the pyramid starts from the one above it (cascadic multigrid: Bornemann and Deuflhard,
Numer. Math. 75:135, 1996, from memory) and takes some steps, each of every cell at once, so that
the result depends on no order of cells.
"""

import numpy as np

from grading.kernels.primitives import compiled, inner

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

HELD, MOMENTUM = np.float32(100), np.float32(0.8)
"""Of the plate: what an observation weighs, and the share of a step that is taken again."""

LENGTH, SHORTEST = 1 / 12, 16
"""Share of the longer side of a frame over which the plate loses a slope, and the least of it in
cells."""

BEND_STEPS = 60
"""Of the plate: of the finest level; the others take two or four times as many."""

NOWHERE, HIGHEST = np.float32(-20), np.float32(2.5)
"""A floor that is none, and the stops that the plate may rise above one."""

LEAST = np.float32(1e-9)

WAVE = 8
"""Steps that go over the cells together."""


def colours(ratios, weights, flow):
    """Stops from green to red and from green to blue of every cell, from ratios that some tell.

    With x and y for these stops, it minimises the sum of squares of the slopes of x - y (from blue
    to red) and, `STIFF` times as heavy, of x + y (from green to magenta, where light differs less),
    of the departures from what is observed, and of a little of both themselves.

    Parameters
    ----------
    ratios, weights : ndarray, shape (3, rows, columns), float32
        Stops from green to red, from green to blue and from blue to red, and what each weighs.
    flow : ndarray, shape (rows, columns), float32
        How well a cell passes on what it has, 0 to 1.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
    """
    levels = [(ratios, OBSERVED * weights, flow)]
    while min(levels[-1][2].shape) > 3:
        ratios, weights, flow = levels[-1]
        weights = 4 * weights
        pairs = [shrunk(*pair) for pair in zip(ratios, weights, strict=True)]
        stacks = (np.stack(part) for part in zip(*pairs, strict=True))
        levels.append((*stacks, halved(flow)))
    state = np.zeros((2, *levels[-1][2].shape), np.float32)
    for k, (ratios, weights, flow) in reversed(list(enumerate(levels))):
        state = np.stack([grown(plane, flow.shape) for plane in state])
        home = np.float32((1 / (FADING * max(flow.shape))) ** 2)
        steps = min(STEPS * 2**k, MOST_STEPS)
        state = _relaxed(state, ratios, weights, flow, home, steps)
    return np.stack(((state[0] + state[1]) / 2, (state[1] - state[0]) / 2))


def plate(observed, weight, floor, flow):
    """A level for every cell: a thin plate with some tension over a floor.

    Parameters
    ----------
    observed, weight : ndarray, shape (rows, columns), float32
    floor : ndarray, shape (rows, columns), float32
        What the level lies on or above.
    flow : ndarray, shape (rows, columns), float32

    Returns
    -------
    ndarray, shape (rows, columns), float32
    """
    levels = [(observed, HELD * weight, floor, flow)]
    while min(levels[-1][0].shape) > 3:
        observed, weight, floor, flow = levels[-1]
        levels.append((*shrunk(observed, 16 * weight), _coarse_floor(floor), halved(flow)))
    observed, weight, floor, _ = levels[-1]
    mean = (observed * weight).sum() / max(weight.sum(), LEAST)
    level = np.maximum(np.full(floor.shape, mean, np.float32), floor)
    for k, (observed, weight, floor, flow) in reversed(list(enumerate(levels))):
        level, steps = grown(level, flow.shape), BEND_STEPS * min(2**k, 4)
        tension = np.float32(max(LENGTH * max(flow.shape), SHORTEST / 2**k) ** -2)
        level = _bent(level, observed, weight, floor, flow, tension, steps)
    return level


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


def _coarse_floor(floor):
    """A floor under those of 2x2 cells of which most have one."""
    mean, share = shrunk(floor, (floor > NOWHERE).astype(np.float32))
    return np.where(share > 0.5, mean, NOWHERE)


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


def _framed(planes):
    """Planes with a cell of 0 on each side."""
    return np.pad(planes, [(0, 0)] * (planes.ndim - 2) + [(1, 1), (1, 1)])


def _relaxed(state, ratios, weights, flow, home, steps):
    """Second-order Chebyshev steps (Golub and Varga, Numer. Math. 3:147, 1961, from memory)."""
    links, system = _links(flow), np.empty((6, *flow.shape), np.float32)
    _set_up(ratios, weights, links, home, system)
    states, paces = np.stack([_framed(state)] * 2), _paces(steps)
    for start in range(0, len(paces), WAVE):
        wave = paces[start : start + WAVE]
        _step(states, links, system, wave)
        states = states[::-1] if len(wave) % 2 else states
    return states[0, :, 1:-1, 1:-1]


def _paces(steps):
    """Of some steps, and of a few plain ones, in which what is observed settles."""
    paces, shrinking = [1.0], float(NEAR) ** 2 / 4
    for k in range(1, steps):
        paces.append(1 / (1 - (2 if k == 1 else paces[-1]) * shrinking))
    return np.array((*paces, *[1.0] * SETTLING), np.float32)


def _links(flow):
    """How well a cell passes on to that on its right and to that below, with a frame of 0."""
    flow = _framed(flow)
    links = np.zeros((2, *flow.shape), np.float32)
    np.minimum(flow[:, :-1], flow[:, 1:], out=links[0, :, :-1])
    np.minimum(flow[:-1], flow[1:], out=links[1, :-1])
    return links


@compiled
def _set_up(ratios, weights, links, home, system):
    """Of each cell, what it is by what it observes, and what its neighbours' sums add.

    In double precision, since a cell that observes one ratio has two equations that are almost one.
    """
    for i in range(system.shape[1]):
        _set_up_row(
            ratios[:, i], weights[:, i], links[0, i + 1], links[1, i, 1:], links[1, i + 1, 1:],
            home, system[:, i],
        )  # fmt: skip


@inner
def _set_up_row(ratios, weights, along, above, below, home, system):
    red, blue, between = ratios[0], ratios[1], ratios[2]
    of_red, of_blue, of_both = weights[0], weights[1], weights[2]
    a, b, d, told, other_told, e = system[0], system[1], system[2], system[3], system[4], system[5]
    for x in range(a.size):
        passed = along[x] + along[x + 1] + above[x] + below[x]
        soft = np.float64(passed) * (1 + home) + LEAST
        stiff = STIFF * soft
        first, second, third = of_red[x], of_blue[x], of_both[x]
        both, mixed = (first + second) / 4, (first - second) / 4
        tells, other = first * red[x] / 2, second * blue[x] / 2
        across = third * between[x] + tells - other
        share = 1 / ((soft + third) * (stiff + both) + stiff * both + first * second / 4)
        p, q, r = (stiff + both) * share, -mixed * share, (soft + third + both) * share
        a[x], b[x], d[x], e[x] = p, STIFF * q, STIFF * r, q
        told[x] = p * across + q * (tells + other)
        other_told[x] = q * across + r * (tells + other)


@compiled
def _step(states, links, system, paces):
    """Solve each cell for its neighbours as they are, a step for each pace.

    Each step reads one of the two states and makes of the other the next. It follows the one
    before it a row behind, so that rows are still in the cache.
    """
    rows, steps = system.shape[1], paces.size
    sums = np.empty((2, system.shape[2]), np.float32)
    for front in range(rows + steps - 1):
        for step in range(max(front - rows + 1, 0), min(front + 1, steps)):
            i, now = front - step, step & 1
            for k in range(2):
                state = states[now, k]
                _add_neighbours(
                    state[i], state[i + 1], state[i + 2], links[0, i + 1], links[1, i, 1:],
                    links[1, i + 1, 1:], sums[k],
                )  # fmt: skip
            last = states[1 - now, 0, i + 1, 1:], states[1 - now, 1, i + 1, 1:]
            a, b, d, told = system[0, i], system[1, i], system[2, i], system[3, i]
            _move(last[0], told, a, b, sums[0], sums[1], paces[step])
            _move(last[1], system[4, i], system[5, i], d, sums[0], sums[1], paces[step])


@inner
def _add_neighbours(up, here, down, along, above, below, total):
    for x in range(total.size):
        beside = along[x] * here[x] + along[x + 1] * here[x + 2]
        total[x] = beside + above[x] * up[x + 1] + below[x] * down[x + 1]


@inner
def _move(last, told, a, b, first, second, pace):
    for x in range(told.size):
        solved = told[x] + a[x] * first[x] + b[x] * second[x]
        last[x] = last[x] + pace * (solved - last[x])


def _bent(level, observed, weight, floor, flow, tension, steps):
    """Steps down the plate's slope with momentum, held above the floor."""
    links, levels = _links(flow), np.stack([_framed(level)] * 2)
    top = np.where(floor > NOWHERE, floor + HIGHEST, -NOWHERE)
    for start in range(0, steps, WAVE):
        taken = min(WAVE, steps - start)
        _bend(levels, links, observed, weight, floor, top, tension, taken)
        levels = levels[::-1] if taken % 2 else levels
    return levels[0, 1:-1, 1:-1]


@compiled
def _bend(levels, links, observed, held, floor, top, tension, steps):
    """Some steps; each reads one of the two levels and makes of the other the next.

    A row waits for how far those about it are bent, and a step follows the one before it two rows
    behind.
    """
    rows = levels.shape[1]
    bends = np.zeros((steps, 3, levels.shape[2]), np.float32)
    for front in range(1, rows + 2 * steps - 2):
        for step in range(max((front - rows + 2) // 2, 0), min((front + 1) // 2, steps)):
            i, level, before = front - 2 * step, levels[step & 1], levels[1 - (step & 1)]
            bend = bends[step, i % 3]
            if i < rows - 1:
                _find_bend(level[i - 1 : i + 2], links[0, i], links[1, i - 1 : i + 1], bend)
            else:
                bend[:] = 0
            if i > 1:
                _bend_row(
                    level[i - 1], before[i - 1],
                    (bends[step, (i - 2) % 3], bends[step, (i - 1) % 3], bend),
                    (links[0, i - 1], links[1, i - 2], links[1, i - 1]),
                    (observed[i - 2], held[i - 2], floor[i - 2], top[i - 2]), tension,
                )  # fmt: skip


@inner
def _find_bend(level, along, across, bend):
    """How far the neighbours lie above each cell of a row, together."""
    up, here, down, above, below = level[0], level[1], level[2], across[0], across[1]
    for x in range(1, bend.size - 1):
        bend[x] = (
            along[x - 1] * (here[x - 1] - here[x])
            + along[x] * (here[x + 1] - here[x])
            + above[x] * (up[x] - here[x])
            + below[x] * (down[x] - here[x])
        )


@inner
def _bend_row(now, last, bends, links, about, tension):
    """`last` becomes the next level."""
    four, two, least = np.float32(4), np.float32(2), np.float32(1e-6)
    up, here, down = bends
    along, above, below = links
    seen, hold, low, high = about
    for x in range(1, now.size - 1):
        left, right, over, under = along[x - 1], along[x], above[x], below[x]
        slope = left * (here[x - 1] - here[x]) + right * (here[x + 1] - here[x])
        slope = slope + over * (up[x] - here[x]) + under * (down[x] - here[x])
        slope = slope - tension * here[x] + hold[x - 1] * (now[x] - seen[x - 1])
        passed = left + right + over + under
        stiff = passed * passed + four * passed + two * tension * passed + hold[x - 1] + least
        moved = now[x] - slope / stiff + MOMENTUM * (now[x] - last[x])
        last[x] = min(max(moved, low[x - 1]), high[x - 1])
