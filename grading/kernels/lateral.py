"""What undoes lateral colour on the pixels of a tile.

It moves by a fraction of a pixel that changes slowly, so red and blue are resampled first along the
rows and then down the columns, in runs of pixels along a row: at both ends of a run the shift and
the weights of its six taps are found, and in between the weights run evenly. Runs, and the rows
between which shifts run evenly, are at fixed places of the frame, so tiles give the same bits.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.delays import STEPS, WEIGHTS
from grading.kernels.lanes import (
    LANES,
    alike,
    fused,
    greater,
    inlined,
    lesser,
    load,
    numbered,
    store,
)
from grading.kernels.primitives import aligned, borrowing, compiled, f32, inner, u64
from grading.region import Region

RUNS = (128, 64, 32, 16)
"""Pixels of a run, the fastest first."""

ROWS = 16
"""Rows from one for which shifts are found to the next."""

EVENLY = 0.2
"""Pixels by which a shift may change in a run: a wave of four pixels loses 1.2 percent at most."""

MOST = 32
"""Pixels of the largest shift."""

BEYOND = f32(1 / 8)
"""Share of the least of four values by which what lies between them may be less, or more."""

TERMS = 7
"""Powers of a radius, from 0, that move a colour."""


class Shift(NamedTuple):
    """Where a colour is to be taken from, as `grading.lens.optics.Warp` has it, in pixels.

    ``x`` and ``y`` are the centre, ``unit`` the length of the radius 1, ``radial`` the coefficients
    of `TERMS` powers without the 1 that leaves alone, ``s`` and ``t`` the tangential ones, ``run``
    the pixels of a run.
    """

    x: float
    y: float
    unit: float
    radial: tuple[float, ...]
    s: float
    t: float
    run: int


class Runs(NamedTuple):
    """Runs of a row: where they begin and end in it, how far into it the first of them begins, one
    by the pixels of a run; by how many whole pixels each is shifted, and which weights it has at
    its start and at its end; and all weights."""

    edges: np.ndarray
    way: int
    step: np.float32
    found: np.ndarray
    weights: np.ndarray


def shift_colours(
    rgb: np.ndarray, here: Region, there: Region, red: Shift | None, blue: Shift | None
) -> np.ndarray:
    """Red and blue taken from where they were recorded.

    A value stays among the four nearest ones of its row, then of its column, or goes beyond them by
    `BEYOND` of the least at most: texture keeps its peaks, and a lamp gets no dark ring.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    here, there : Region
        Where the pixels are in the frame, and which of them are wanted. As many as the largest
        shift and three must be around these, but at the borders of the frame, beyond which its last
        pixels are repeated.
    red, blue : Shift or None
        None leaves a colour where it is.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        Of what is wanted.
    """
    rows, columns = there.shape
    memory = aligned((3 * rows * columns + LANES,))
    out = memory[:-LANES].reshape(3, rows, columns)
    y, x = there.place_in(here)
    for c, shift in enumerate((red, None, blue)):
        if shift is None:
            out[c] = rgb[c, y : y + rows, x : x + columns]
        else:
            numbers = tuple(map(float, (shift.x, shift.y, shift.unit, shift.s, shift.t)))
            _shift_colour(
                rgb[c], here[::2], there, numbers, tuple(map(float, shift.radial)), shift.run,
                WEIGHTS, memory[c * rows * columns :],
            )  # fmt: skip
    return out


@compiled
def _shift_colour(plane, corner, there, shift, radial, run, weights, out):
    """Rows that are shifted along are kept as long as some row below needs them.

    Runs are made from the left, and each row from the top, by `LANES` pixels at a time: what the
    last ones of a run are too many is made over, and `out` goes on for as many.
    """
    (first_row, first_column), (top, bottom, left, right) = corner, there
    last_row, last_column = first_row + plane.shape[0], first_column + plane.shape[1]
    begin, columns = left - left % run, right - left
    runs = -(-(right - begin) // run)
    edges = np.arange(begin - left, begin - left + run * runs + 1, run)
    edges[0], edges[runs] = 0, columns
    node = first_row // ROWS
    nodes = (last_row - 1) // ROWS + 2 - node
    across, down = np.empty((nodes, runs + 1)), np.empty((nodes, runs + 1))
    _find_shifts(node, begin, run, shift, radial, across, down)

    least, most = _whole(across.min()) - 2, _whole(across.max()) + 4
    start, length = min(left + least, first_column), columns + LANES
    wide = aligned((max(right + LANES + most, last_column) - start,))
    beside = left - start
    least, most = _whole(down.min()) - 2, _whole(down.max()) + 4
    room = most - least
    kept, shifts = aligned((room * length,)), np.empty(runs + 1)
    each = Runs(edges, left - begin, f32(1) / f32(run), np.empty((3, runs), np.int64), weights)
    needed = np.arange(top + least, bottom + most)
    for k in range(needed.size):
        needed[k] = min(max(needed[k], first_row), last_row - 1)
    starts = needed % room * length

    _shift_rows(
        plane, first_row, top, node, least, across, down, needed, starts, wide,
        first_column - start, beside, kept, length, shifts, each, out,
    )  # fmt: skip


@borrowing
def _shift_rows(
    plane, first_row, top, node, least, across, down, needed, starts, wide, before, beside, kept,
    length, shifts, each, out,
):  # fmt: skip
    room = kept.size // length
    columns = each.edges[each.edges.size - 1]
    made = needed[0]
    for y in range(needed.size - room):
        while made <= needed[y + room - 1]:
            _widen(plane[made - first_row], before, wide)
            _find_runs(made, node, across, shifts, each.found)
            _shift_row(wide, beside, each, kept, made % room * length)
            made += 1
        _find_runs(y + top, node, down, shifts, each.found)
        _shift_columns(kept, starts, y - least, each, out, y * columns)


@borrowing
def _find_shifts(node, begin, run, shift, radial, across, down):
    """How far to the right and down the ends of runs are to be taken from, in rows of nodes."""
    x, y, unit, s, t = shift
    for i in range(across.shape[0]):
        v = ((node + i) * ROWS + 0.5 - y) / unit
        for j in range(across.shape[1]):
            u = (begin + j * run + 0.5 - x) / unit
            square = u * u + v * v
            r, factor = np.sqrt(square), 0.0
            for k in range(TERMS - 1, -1, -1):
                factor = factor * r + radial[k]
            factor += 2 * (s * u + t * v)
            right, low = (u * factor + square * s) * unit, (v * factor + square * t) * unit
            across[i, j] = min(max(right, -MOST), MOST)
            down[i, j] = min(max(low, -MOST), MOST)


@borrowing
def _find_runs(y, node, nodes, shifts, runs):
    """Whole pixels by which runs of a row are shifted, and weights at their starts and ends."""
    above, below = nodes[y // ROWS - node], nodes[y // ROWS - node + 1]
    share = y % ROWS / ROWS
    for k in range(shifts.size):
        shifts[k] = above[k] + share * (below[k] - above[k])
    whole, first, last = runs[0], runs[1], runs[2]
    for k in range(whole.size):
        before, after = shifts[k], shifts[k + 1]
        down = np.floor((before + after) / 2)
        whole[k] = np.int64(down)
        first[k] = _nearest(before - down)
        last[k] = _nearest(after - down)


@inner
def _whole(place):
    return int(np.floor(place))


@borrowing
def _widen(row, first, wide):
    """A row that goes on as it ends."""
    _fill(wide[:first], row[0])
    _copy(row, wide[first : first + row.size])
    _fill(wide[first + row.size :], row[row.size - 1])


@inner
def _fill(out, value):
    for x in range(out.size):
        out[x] = value


@inner
def _copy(source, out):
    for x in range(out.size):
        out[x] = source[x]


@borrowing
def _shift_row(wide, beside, runs, out, to):
    for k in range(runs.found.shape[1]):
        at = u64(beside + runs.edges[k] + runs.found[0, k] - 2)
        taps = at, at + u64(1), at + u64(2), at + u64(3), at + u64(4), at + u64(5)
        _weigh(wide, taps, runs, k, out, to)


@borrowing
def _shift_columns(kept, starts, first, runs, out, to):
    for k in range(runs.found.shape[1]):
        x, n = runs.edges[k], first + runs.found[0, k] - 2
        taps = (
            u64(starts[n] + x), u64(starts[n + 1] + x), u64(starts[n + 2] + x),
            u64(starts[n + 3] + x), u64(starts[n + 4] + x), u64(starts[n + 5] + x),
        )  # fmt: skip
        _weigh(kept, taps, runs, k, out, to)


@inner
def _nearest(place):
    """Index of the weights of a place between two pixels."""
    return np.int64(min(max(np.floor(place * STEPS + 0.5) + STEPS // 2, 0.0), 2.0 * STEPS))


@inlined
def _weigh(pixels, taps, runs, k, out, to):
    """Six taps with weights on the way from those at the start of a run to those at its end."""
    a, b, c, d, e, f = taps
    first, last = _six(runs.weights, runs.found[1, k]), _six(runs.weights, runs.found[2, k])
    way = f32(runs.way if k == 0 else 0)
    share, onward = (numbered() + alike(way)) * alike(runs.step), alike(f32(LANES) * runs.step)
    at = u64(to + runs.edges[k])
    for _ in range(-(-(runs.edges[k + 1] - runs.edges[k]) // LANES)):
        v, w, x, y = load(pixels, b), load(pixels, c), load(pixels, d), load(pixels, e)
        total = _between(first[0], last[0], share) * load(pixels, a)
        total = fused(_between(first[1], last[1], share), v, total)
        total = fused(_between(first[2], last[2], share), w, total)
        total = fused(_between(first[3], last[3], share), x, total)
        total = fused(_between(first[4], last[4], share), y, total)
        total = fused(_between(first[5], last[5], share), load(pixels, f), total)
        low, high = lesser(lesser(v, w), lesser(x, y)), greater(greater(v, w), greater(x, y))
        size = greater(low, alike(f32(0)) - low)
        low, high = fused(alike(-BEYOND), size, low), fused(alike(BEYOND), size, high)
        store(out, at, lesser(greater(total, low), high))
        share = share + onward
        a, b, c, at = a + u64(LANES), b + u64(LANES), c + u64(LANES), at + u64(LANES)
        d, e, f = d + u64(LANES), e + u64(LANES), f + u64(LANES)


@inlined
def _six(weights, n):
    return (
        alike(weights[n, 0]), alike(weights[n, 1]), alike(weights[n, 2]),
        alike(weights[n, 3]), alike(weights[n, 4]), alike(weights[n, 5]),
    )  # fmt: skip


@inlined
def _between(before, after, share):
    return fused(share, after - before, before)
