"""Nodes of a map: where each group of pixels in a row that is made finds its own.

Places are given every `STEP` pixels along the rows and down the columns, and run straight from node
to node. All groups of a row are found before any is made, since that vectorises.
"""

from typing import NamedTuple

import numpy as np

from grading.kernels.lanes import LANES
from grading.kernels.primitives import borrowing, f32, fma, inner

STEP = LANES
"""Pixels, and rows, from one node to the next."""


class Groups(NamedTuple):
    """Of `LANES` pixels each, in a row that is made: from which of the starts on they find theirs,
    how far from there the first of them is and each from the one before, and how far the farthest,
    in whole pixels. Nodes at their ends are in `ends`."""

    firsts: np.ndarray
    begins: np.ndarray
    steps: np.ndarray
    most: np.ndarray
    ends: np.ndarray


@inner
def room_for_groups(count):
    return Groups(
        np.empty(count, np.int64), np.empty(count, np.float32), np.empty(count, np.float32),
        np.empty(count, np.int64), np.empty(count + 1),
    )  # fmt: skip


@borrowing
def find_groups(nodes, y, node, low, groups):
    """Those of row y, from a node on; starts are counted from `low` on."""
    firsts, begins, steps, most, ends = groups
    above, below, share = nodes[y // STEP, node:], nodes[y // STEP + 1, node:], (y % STEP) / STEP
    for k in range(ends.size):
        ends[k] = above[k] + share * (below[k] - above[k])
    for k in range(firsts.size):
        here, after = ends[k], ends[k + 1]
        base = np.floor(min(here, after))
        begin, step = f32(here - base), f32((after - here) / STEP)
        firsts[k] = np.int64(base) - low
        begins[k] = begin
        steps[k] = step
        most[k] = np.int64(max(begin, fma(f32(STEP - 1), step, begin)))


@inner
def extent(nodes, top, bottom, begin, end):
    """The whole numbers below the least and the greatest of what some rows have at some nodes."""
    least = most = nodes[top // STEP, begin]
    for i in range(top // STEP, (bottom - 1) // STEP + 2):
        for j in range(begin, end + 1):
            least, most = min(least, nodes[i, j]), max(most, nodes[i, j])
    return np.int64(np.floor(least)), np.int64(np.floor(most))
