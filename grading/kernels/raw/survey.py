"""What the 2x2 blocks of a mosaic tell about the light around clipped places, cell by cell.

A cell is 4x4 blocks that begin at red sites. All colours of a block are interpolated to its middle,
so that an edge through it is none between its colours. Bright blocks tell more than dark ones, and
those at an edge, which mix two lights, little. What cells tell together, `conclude` finds.
"""

import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from grading.kernels.primitives import clamp, compiled, inner
from grading.kernels.raw.conclude import (
    BRIGHT,
    BURNT,
    FLOW,
    MEANS,
    SHOWING,
    SHOWN,
    SUMS,
    conclude,
)
from grading.kernels.raw.mosaic import unweave
from grading.kernels.raw.runs import runs

BLOCKS, CELL = 4, 8
"""Blocks and pixels along a cell."""

PART, BAND = 32, 64
"""Cells of a row that are looked at together at least, and runs of these that are a thread's at a
time."""

KNOWN = np.float32(0.93)
"""Signal from which a channel may have clipped."""

STEEP, SOFT = np.float32(0.5), np.float32(0.85)
"""Darkest over brightest of nine blocks, at and below which there is an edge, and from which on
there is none."""

EDGE, LEAK = np.float32(0.02), np.float32(0.05)
"""What a block at an edge tells, and lets through, beside one that is not."""

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
        Those that are further than a part from all that are asked for are 0.
    """
    shape = cells_of(mosaic, sensor)
    cells = np.zeros((SUMS, *shape), np.float32)
    places = runs(np.ones(shape, bool) if near is None else near, PART)
    bands = np.array_split(places, max(len(places) // BAND, 1))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(lambda band: _survey(mosaic, sensor, band, cells), bands))
        conclude(cells, gains, bands, pool)
    return cells


def cells_of(mosaic, sensor):
    """How many cells a frame has down and across."""
    return tuple(-(-(n + p) // CELL) for n, p in zip(mosaic.shape, sensor.phase, strict=True))


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
