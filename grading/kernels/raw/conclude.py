"""What cells tell of light once their sums are known, beside what is around them.

Of a light that stands out from a dark background, as the glow about a lamp does, the background is
taken off. What is darker than all that is around it (a bird or a mast before a sky) hardly counts;
a grey closing finds it (Serra, Image Analysis and Mathematical Morphology, 1982, from memory).
"""

import numpy as np

from grading.kernels.primitives import compiled, inner, log2, smooth

SMALL = 2
"""Cells to each side within which something dark is small, and a background is near."""

DEEP, SHALLOW = np.float32(0.6), np.float32(0.75)
"""A channel over what it is around, at and below which something small and dark tells no level, and
from which on it is no such thing."""

BACK, FRONT = np.float32(0.1), np.float32(0.4)
"""A background over what stands before it, at and below which all of it is taken off, and from
which on nothing is."""

LEFT = np.float32(1 / 32)
"""Share of a channel that is left, at least, where the background is taken off; less is noise."""

TINY, LEAST = np.float32(1e-6), np.float32(1e-20)

PAIRS = ((0, 1), (2, 1), (0, 2))
"""Channels of which a cell tells the ratio: red to green, blue to green, red to blue."""

SUMS = 23
"""Of a cell: nine of the pairs (first, second, weight), six of the channels (signal, weight), and
those that follow."""

FLOW, BRIGHT, BURNT, SHOWN, SHOWING, MEANS = 15, 16, 17, 18, 19, 20
"""How well light passes; the brightest channel; the share of blocks of which every channel clips;
the brightest channel and the weight of all other blocks; the three channels."""

RATIO, RATIO_WEIGHT, SIGNAL, SIGNAL_WEIGHT = 0, 3, 6, 9
"""What becomes of the first twelve: ratios (balanced, in stops) and their weights, signals and
their weights."""


def conclude(cells, gains, bands, pool):
    """Sums of pairs and channels become ratios, signals and weights; in place.

    Parameters
    ----------
    cells : ndarray, shape (23, cells down, cells across), float32
    gains : ndarray, shape (3,), float32
    bands : list of ndarray
        Runs of the cells that have sums, as `grading.kernels.raw.runs.runs` has them.
    pool : concurrent.futures.Executor
        Threads; the result does not depend on how many.
    """
    around = np.stack(list(pool.map(_closed, cells[MEANS:])))
    behind = np.stack(list(pool.map(_least_near, cells[MEANS:])))
    list(pool.map(lambda band: _conclude(cells, around, behind, gains, band), bands))


def _closed(mean):
    return extreme(np.minimum, extreme(np.maximum, mean, SMALL), 2 * SMALL)


def _least_near(mean):
    return extreme(np.minimum, mean, SMALL)


def extreme(which, values, reach):
    """The extreme of the cells up to some cells away in both directions."""
    for _ in range(2):
        size, done = len(values), 1
        values = np.pad(values, ((reach, reach), (0, 0)), "edge")
        while done <= 2 * reach:
            step = min(done, 2 * reach + 1 - done)
            values = which(values[:-step], values[step:])
            done += step
        values = np.ascontiguousarray(values[:size].T)
    return values


@compiled
def _conclude(cells, around, behind, gains, places):
    for n in range(places.shape[0]):
        _conclude_run(cells, around, behind, gains, places[n, 0], places[n, 1], places[n, 2])


@inner
def _conclude_run(cells, around, behind, gains, i, start, end):
    rows = np.empty((17, end - start), np.float32)
    told, beside, shown, off = rows[:12], rows[12:15], rows[15], rows[16]
    _divide(cells[SHOWN, i, start:end], cells[SHOWING, i, start:end], shown)
    red, green, blue = behind[0, i, start:end], behind[1, i, start:end], behind[2, i, start:end]
    _find_background(red, green, blue, shown, off)
    for k in range(3):
        signal, weight = cells[9 + k, i, start:end], cells[12 + k, i, start:end]
        _compare(signal, weight, around[k, i, start:end], beside[k])
        _trust(signal, shown, beside[k], told[SIGNAL + k])
        _trust(weight, shown, beside[k], told[SIGNAL_WEIGHT + k])
    for k in range(3):
        first, second = PAIRS[k]
        shift, weight = (log2(gains[first]), log2(gains[second])), cells[3 * k + 2, i, start:end]
        _find_ratio(
            cells[3 * k, i, start:end], cells[3 * k + 1, i, start:end], weight,
            behind[first, i, start:end], behind[second, i, start:end], off, shift, told[RATIO + k],
        )  # fmt: skip
        _weigh_ratio(weight, shown, beside[first], beside[second], told[RATIO_WEIGHT + k])
    for k in range(12):
        _copy(told[k], cells[k, i, start:end])
    _pass(cells[BRIGHT, i, start:end], cells[FLOW, i, start:end])


@inner
def _divide(sums, weights, means):
    for x in range(means.size):
        means[x] = sums[x] / max(weights[x], LEAST)


@inner
def _find_background(red, green, blue, shown, off):
    """How far the background of each cell is to be taken off."""
    for x in range(off.size):
        deepest = max(max(red[x], green[x]), max(blue[x], np.float32(0)))
        off[x] = smooth((FRONT - deepest / max(shown[x], TINY)) / (FRONT - BACK))


@inner
def _compare(signal, weight, around, beside):
    """A channel over what it is around, at most 1."""
    for x in range(beside.size):
        share = signal[x] / max(weight[x] * around[x], LEAST)
        beside[x] = min(max(share, np.float32(0)), np.float32(1))


@inner
def _trust(values, shown, beside, told):
    for x in range(told.size):
        trust = shown[x] * shown[x] * smooth((beside[x] - DEEP) / (SHALLOW - DEEP))
        told[x] = trust * values[x]


@inner
def _find_ratio(firsts, seconds, weights, back, other, off, shift, ratio):
    """Of two channels without what is to be taken off, balanced, in stops."""
    zero = np.float32(0)
    for x in range(ratio.size):
        weight = weights[x]
        least = TINY * weight + LEAST
        first = max(firsts[x] - off[x] * weight * max(back[x], zero), LEFT * firsts[x])
        second = max(seconds[x] - off[x] * weight * max(other[x], zero), LEFT * seconds[x])
        above, below = log2(max(first, least)), log2(max(second, least))
        ratio[x] = above - below + shift[0] - shift[1]


@inner
def _weigh_ratio(weights, shown, beside, other, told):
    for x in range(told.size):
        least = min(beside[x], other[x])
        told[x] = shown[x] * (least * least) * np.sqrt(weights[x])


@inner
def _copy(values, cells):
    for x in range(cells.size):
        cells[x] = values[x]


@inner
def _pass(brightness, flow):
    for x in range(flow.size):
        bright = max(brightness[x], np.float32(1e-3))
        flow[x] = bright * bright * bright * bright * flow[x]
