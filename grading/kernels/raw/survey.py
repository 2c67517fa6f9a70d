"""What the 2x2 blocks of a mosaic tell about the light around clipped places, cell by cell.

A cell is 4x4 blocks that begin at red sites. All colours of a block are interpolated to its middle,
so that an edge through it is none between its colours. Bright blocks tell more than dark ones, and
those at an edge, which mix two lights, little. Of a light that stands out from a dark background,
as the glow about a lamp does, the background is taken off. What is darker than all that is around
it (a bird or a mast before a sky) hardly counts; a grey closing finds it (Serra, Image Analysis
and Mathematical Morphology, 1982, from memory).
"""

import numpy as np

from grading.kernels.primitives import clamp, compiled, inner, log2, smooth
from grading.kernels.raw.mosaic import unweave

BLOCKS, CELL = 4, 8
"""Blocks and pixels along a cell."""

KNOWN = np.float32(0.93)
"""Signal from which a channel may have clipped."""

STEEP, SOFT = np.float32(0.5), np.float32(0.85)
"""Darkest over brightest of nine blocks, at and below which there is an edge, and from which on
there is none."""

EDGE, LEAK = np.float32(0.02), np.float32(0.05)
"""What a block at an edge tells, and lets through, beside one that is not."""

SMALL = 2
"""Cells to each side within which something dark is small, and a background is near."""

DEEP, SHALLOW = np.float32(0.6), np.float32(0.75)
"""A channel over what it is around, at and below which something small and dark tells no level, and
from which on it is no such thing."""

BACK, FRONT = np.float32(0.1), np.float32(0.4)
"""A background over what stands before it, at and below which all of it is taken off, and from
which on nothing is."""

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


def survey(mosaic, sensor, gains):
    """Fields of each cell of a frame.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
    sensor : Sensor
    gains : ndarray, shape (3,), float32
        White-balance gains, green 1.

    Returns
    -------
    ndarray, shape (23, cells down, cells across), float32
        The cells begin at the first red site, or the pixel before the frame that would be one.
    """
    down, across = (-(-(n + p) // CELL) for n, p in zip(mosaic.shape, sensor.phase, strict=True))
    cells = np.empty((SUMS, down, across), np.float32)
    _survey(mosaic, sensor, cells)
    means = cells[MEANS:]
    closed = (_extreme(np.maximum, mean, SMALL) for mean in means)
    around = np.stack([_extreme(np.minimum, mean, 2 * SMALL) for mean in closed])
    behind = np.stack([_extreme(np.minimum, mean, SMALL) for mean in means])
    _conclude(cells, around, behind, gains)
    return cells


def _extreme(which, values, reach):
    """The extreme of the cells up to some cells away in both directions."""
    for _ in range(2):
        padded = np.pad(values, ((reach, reach), (0, 0)), "edge")
        values = padded[: len(values)]
        for start in range(1, 2 * reach + 1):
            values = which(values, padded[start : start + len(values)])
        values = np.ascontiguousarray(values.T)
    return values


@compiled
def _survey(mosaic, sensor, cells):
    rows, size = BLOCKS + 2, BLOCKS * cells.shape[2] + 2
    sites = np.empty((4, rows, size), np.float32)
    top, extremes = np.empty((rows, size), np.float32), np.empty((2, size), np.float32)
    middle, peak = np.empty((4, size - 2), np.float32), np.empty((4, size - 2), np.float32)
    block, sums = np.empty((5, size - 2), np.float32), np.empty((SUMS, size - 2), np.float32)
    unit = np.ones(3, np.float32)
    for i in range(cells.shape[1]):
        first = CELL * i - sensor.phase[0] - 2
        unweave(mosaic, first, -sensor.phase[1] - 2, sensor, unit, sites)
        for y in range(rows):
            _find_brightest(sites[0, y], sites[1, y], sites[2, y], sites[3, y], top[y])
        sums[:] = 0
        for y in range(1, BLOCKS + 1):
            here = top[y, 1:-1]
            _find_extremes(top[y - 1], top[y], top[y + 1], extremes[0], extremes[1])
            _weigh(here, extremes[0], extremes[1], block[0], sums[FLOW], sums[BRIGHT])
            for site in range(4):
                row, column = y + 1 - 2 * (site // 2), 2 - 2 * (site & 1)
                near, far = sites[site, y], sites[site, row]
                _to_middle(
                    near[1:], near[column:], far[1:], far[column:], middle[site], peak[site]
                )
            _know(middle, peak, block)
            red, green, blue = middle[0], block[4], middle[3]
            _add_pair(red, green, block[0], block[1], block[2], sums[0], sums[1], sums[2])
            _add_pair(blue, green, block[0], block[3], block[2], sums[3], sums[4], sums[5])
            _add_pair(red, blue, block[0], block[1], block[3], sums[6], sums[7], sums[8])
            for k, values in enumerate((red, green, blue)):
                _add_signal(values, block[0], block[1 + k], sums[9 + k], sums[12 + k])
                _add(values, sums[MEANS + k])
            _add_shown(here, block, sums[BURNT], sums[SHOWN], sums[SHOWING])
        for k in range(SUMS):
            _join(sums[k], cells[k, i])


@inner
def _find_brightest(red, first, second, blue, top):
    for x in range(top.size):
        green = np.float32(0.5) * (first[x] + second[x])
        top[x] = clamp(max(max(red[x], green), blue[x]), np.float32(0), np.float32(1))


@inner
def _find_extremes(above, here, below, least, greatest):
    for x in range(here.size):
        least[x] = min(min(above[x], here[x]), below[x])
        greatest[x] = max(max(above[x], here[x]), below[x])


@inner
def _weigh(top, least, greatest, weight, flow, bright):
    """A block's weight, and how well light passes it."""
    for x in range(top.size):
        low = min(min(least[x], least[x + 1]), least[x + 2])
        high = max(max(greatest[x], greatest[x + 1]), greatest[x + 2])
        even = (low / max(high, np.float32(1e-4)) - STEEP) / (SOFT - STEEP)
        even = clamp(even, np.float32(0), np.float32(1))
        weight[x] = top[x] * top[x] * (even + EDGE)
        flow[x] = flow[x] + max(even, LEAK)
        bright[x] = bright[x] + top[x]


@inner
def _to_middle(own, beside, other, across, middle, peak):
    """A site's colour interpolated to the middle of its block, and the most that is in it."""
    for x in range(middle.size):
        a, b, c, d = own[x], beside[x], other[x], across[x]
        middle[x] = np.float32(9 / 16) * a + np.float32(3 / 16) * (b + c) + np.float32(1 / 16) * d
        peak[x] = max(max(a, b), max(c, d))


@inner
def _know(middle, peak, block):
    """Whether each channel is known, 1 or 0, and green."""
    one, zero = np.float32(1), np.float32(0)
    known_red, known_green, known_blue, green = block[1], block[2], block[3], block[4]
    for x in range(green.size):
        known_red[x] = one if peak[0, x] < KNOWN else zero
        known_green[x] = one if max(peak[1, x], peak[2, x]) < KNOWN else zero
        known_blue[x] = one if peak[3, x] < KNOWN else zero
        green[x] = np.float32(0.5) * (middle[1, x] + middle[2, x])


@inner
def _add_pair(first, second, weight, know_first, know_second, firsts, seconds, weights):
    for x in range(weight.size):
        w = weight[x] * know_first[x] * know_second[x]
        firsts[x] = firsts[x] + w * first[x]
        seconds[x] = seconds[x] + w * second[x]
        weights[x] = weights[x] + w


@inner
def _add_signal(values, weight, known, signals, weights):
    for x in range(weight.size):
        w = weight[x] * known[x]
        signals[x] = signals[x] + w * values[x]
        weights[x] = weights[x] + w


@inner
def _add(values, total):
    for x in range(total.size):
        total[x] = total[x] + values[x]


@inner
def _add_shown(top, block, burnt, shown, showing):
    one = np.float32(1)
    weight, red, green, blue = block[0], block[1], block[2], block[3]
    for x in range(top.size):
        whole = (one - red[x]) * (one - green[x]) * (one - blue[x])
        w = (one - whole) * weight[x]
        burnt[x] = burnt[x] + whole
        shown[x] = shown[x] + w * top[x]
        showing[x] = showing[x] + w


@inner
def _join(values, cells):
    """Means over the blocks of a cell, of sums over its rows."""
    for x in range(cells.size):
        four = values[4 * x] + values[4 * x + 1] + values[4 * x + 2] + values[4 * x + 3]
        cells[x] = four * np.float32(1 / BLOCKS**2)


@compiled
def _conclude(cells, around, behind, gains):
    """Sums of pairs and channels become ratios, signals and weights; in place."""
    zero = np.float32(0)
    stops = (log2(gains[0]), log2(gains[1]), log2(gains[2]))
    told, beside = np.empty(12, np.float32), np.empty(3, np.float32)
    for i in range(cells.shape[1]):
        for j in range(cells.shape[2]):
            cell, back = cells[:, i, j], behind[:, i, j]
            shown = cell[SHOWN] / max(cell[SHOWING], LEAST)
            deepest = max(max(back[0], back[1]), max(back[2], zero))
            off = smooth((FRONT - deepest / max(shown, TINY)) / (FRONT - BACK))
            for k in range(3):
                beside[k] = cell[9 + k] / max(cell[12 + k] * around[k, i, j], LEAST)
                beside[k] = min(max(beside[k], zero), np.float32(1))
            for k in range(3):
                first, second = PAIRS[k]
                weight = cell[3 * k + 2]
                least = TINY * weight + LEAST
                above = log2(max(cell[3 * k] - off * weight * max(back[first], zero), least))
                below = log2(max(cell[3 * k + 1] - off * weight * max(back[second], zero), least))
                told[RATIO + k] = above - below + stops[first] - stops[second]
                square = min(beside[first], beside[second]) * min(beside[first], beside[second])
                told[RATIO_WEIGHT + k] = shown * square * np.sqrt(weight)
                trust = shown * shown * smooth((beside[k] - DEEP) / (SHALLOW - DEEP))
                told[SIGNAL + k] = trust * cell[9 + k]
                told[SIGNAL_WEIGHT + k] = trust * cell[12 + k]
            for k in range(12):
                cell[k] = told[k]
            bright = max(cell[BRIGHT], np.float32(1e-3))
            cell[FLOW] = bright * bright * bright * bright * cell[FLOW]
