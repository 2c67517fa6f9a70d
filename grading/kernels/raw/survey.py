"""What the 2x2 blocks of a mosaic tell about the light around clipped places, cell by cell.

A cell is 4x4 blocks that begin at red sites. All colours of a block are interpolated to its middle,
so that an edge through it is none between its colours. Bright blocks tell more than dark ones, and
those at an edge, which mix two lights, little. Of a light that stands out from a dark background,
as the glow about a lamp does, the background is taken off. What is darker than all that is around
it (a bird or a mast before a sky) hardly counts; a grey closing finds it (Serra, Image Analysis
and Mathematical Morphology, 1982, from memory).
"""

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from grading.kernels.primitives import clamp, compiled, inner, log2, smooth
from grading.kernels.raw.mosaic import unweave
from grading.kernels.raw.runs import runs

BLOCKS, CELL = 4, 8
"""Blocks and pixels along a cell."""

PART, BAND = 128, 64
"""Cells of a row that are looked at together at least, and runs of these that are a thread's at a
time."""

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


def survey(mosaic, sensor, gains, near=None):
    """Fields of each cell of a frame.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
    sensor : Sensor
    gains : ndarray, shape (3,), float32
        White-balance gains, green 1.
    near : ndarray, shape (cells down, cells across), bool, optional
        Cells that are asked for; all unless given.

    Returns
    -------
    ndarray, shape (23, cells down, cells across), float32
        The cells begin at the first red site, or the pixel before the frame that would be one.
        Those that are not asked for may be 0.
    """
    shape = cells_of(mosaic, sensor)
    cells = np.zeros((SUMS, *shape), np.float32)
    places = runs(np.ones(shape, bool) if near is None else near, PART)
    bands = np.array_split(places, max(len(places) // BAND, 1))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda band: _survey(mosaic, sensor, band, cells), bands))
        means = cells[MEANS:]
        around = pool.map(_closed, means)
        behind = pool.map(lambda mean: _extreme(np.minimum, mean, SMALL), means)
        around, behind = np.stack(list(around)), np.stack(list(behind))
        list(pool.map(lambda band: _conclude(cells, around, behind, gains, band), bands))
    return cells


def cells_of(mosaic, sensor):
    """How many cells a frame has down and across."""
    return tuple(-(-(n + p) // CELL) for n, p in zip(mosaic.shape, sensor.phase, strict=True))


def _closed(mean):
    return _extreme(np.minimum, _extreme(np.maximum, mean, SMALL), 2 * SMALL)


def _extreme(which, values, reach):
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
def find_highest(mosaic, phase, highest):
    """The highest count of each cell."""
    rows, columns = mosaic.shape
    across = highest.shape[1]
    line = np.empty(CELL * across, np.uint16)
    for i in range(highest.shape[0]):
        line[:] = 0
        for y in range(max(CELL * i - phase[0], 0), min(CELL * (i + 1) - phase[0], rows)):
            _raise(line[phase[1] : phase[1] + columns], mosaic[y])
        for j in range(across):
            most = line[CELL * j]
            for x in range(1, CELL):
                most = max(most, line[CELL * j + x])
            highest[i, j] = most


@inner
def _raise(highest, values):
    for x in range(values.size):
        highest[x] = values[x] if values[x] > highest[x] else highest[x]


@compiled
def _survey(mosaic, sensor, places, cells):
    for n in range(places.shape[0]):
        _survey_run(mosaic, sensor, places[n, 0], places[n, 1], places[n, 2], cells)


@inner
def _survey_run(mosaic, sensor, i, start, end, cells):
    """Sums of the cells of a row from column `start` to before `end`."""
    rows, size = BLOCKS + 2, BLOCKS * (end - start) + 2
    sites = np.empty((4, rows, size), np.float32)
    top, extremes = np.empty((rows, size), np.float32), np.empty((2, size), np.float32)
    middle, peak = np.empty((4, size - 2), np.float32), np.empty((4, size - 2), np.float32)
    block, sums = np.empty((5, size - 2), np.float32), np.empty((SUMS, size - 2), np.float32)
    unit = np.ones(3, np.float32)
    first = CELL * i - sensor.phase[0] - 2
    unweave(mosaic, first, CELL * start - sensor.phase[1] - 2, sensor, unit, sites)
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
        _join(sums[k], cells[k, i, start:end])


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
def _conclude(cells, around, behind, gains, places):
    """Sums of pairs and channels become ratios, signals and weights; in place."""
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
        above = log2(max(firsts[x] - off[x] * weight * max(back[x], zero), least))
        below = log2(max(seconds[x] - off[x] * weight * max(other[x], zero), least))
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
