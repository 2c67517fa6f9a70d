"""Pixels of a row taken from elsewhere, in runs: shifts go evenly from end to end of each.

At both ends of a run the shift and the weights of its six taps are found; in between the weights
run evenly. Runs are made from the left, by `LANES` pixels at a time: what the last ones of a run
are too many is made over, and room for as many is needed beyond the last run.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.delays import STEPS
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
from grading.kernels.primitives import borrowing, f32, inner, u64

ROWS = 16
"""Rows from one for which shifts are found to the next."""

BEYOND = f32(1 / 8)
"""Share of the least of four values by which what lies between them may be less, or more."""


class Runs(NamedTuple):
    """Runs of a row: where they begin and end in it, how far into it the first of them begins, one
    by the pixels of a run; by how many whole pixels each is shifted, and which weights it has at
    its start and at its end; and all weights."""

    edges: np.ndarray
    way: int
    step: np.float32
    found: np.ndarray
    weights: np.ndarray


@borrowing
def find_runs(y, node, nodes, shifts, runs):
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


@borrowing
def shift_row(wide, beside, runs, out, to):
    for k in range(runs.found.shape[1]):
        at = u64(beside + runs.edges[k] + runs.found[0, k] - 2)
        taps = at, at + u64(1), at + u64(2), at + u64(3), at + u64(4), at + u64(5)
        _weigh(wide, taps, runs, k, out, to)


@borrowing
def shift_columns(kept, starts, first, runs, out):
    for k in range(runs.found.shape[1]):
        x, n = runs.edges[k], first + runs.found[0, k] - 2
        taps = (
            u64(starts[n] + x), u64(starts[n + 1] + x), u64(starts[n + 2] + x),
            u64(starts[n + 3] + x), u64(starts[n + 4] + x), u64(starts[n + 5] + x),
        )  # fmt: skip
        _weigh(kept, taps, runs, k, out, 0)


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
