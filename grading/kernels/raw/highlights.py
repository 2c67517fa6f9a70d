"""Clipped channels rebuilt from the ones that are not.

The colour of a light is looked up around it: a guide of the frame at a small fraction of its size
holds the hue of the bright, unclipped surroundings, carried into the clipped places by a pull-push
pyramid (Gortler, Grzeszczuk, Szeliski and Cohen, "The lumigraph", SIGGRAPH 1996), and the level
the light reaches there.  In the pixel, what is not clipped gives the level, the guide's hue gives
the clipped channels, and a clipped channel is never taken below where it clipped (after Zhang and
Brainard, "Estimation of saturated pixel values in digital color imaging", JOSA A 21, 2004, and
Masood, Zhu and Tappen, "Automatic correction of saturated regions in photographs using
cross-channel correlation", CGF 28, 2009).  Where nothing is left, the light is neutral, and as
bright as the brightest channel of what is rebuilt around it: a lamp is not darker than its rim.
"""

import numpy as np

from grading.kernels.primitives import clamp, compiled, exp2, inner, log2, smooth
from grading.kernels.raw.mosaic import column_levels, sum_rows
from grading.kernels.raw.pullpush import pull_push

CELL = 8
ONSET, CLIP = np.float32(0.9), np.float32(0.985)
TINY, LEAST = np.float32(1e-6), np.float32(1e-20)
STEADY = np.float32(0.7)
"""Signal about a block above which no edge is near."""
BLOCK_WEIGHT = np.float32(0.0015)
"""A block's beside the weight at which a cell counts as much as its surroundings: few blocks, as at
the edge of something small before a clipped sky, do not tell against a rim that is long."""
PUREST = np.float32(5 / np.log(2))
"""How many stops a guide's hue may have between green and red or blue."""


def highlight_guide(mosaic, sensor, balance):
    """Hue and level of the light around clipped places.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts, C-contiguous.
    sensor : Sensor
        Phase and levels.
    balance : array_like, shape (3,)
        White-balance gains, green 1.

    Returns
    -------
    ndarray, shape (4, ceil(rows / 8), ceil(columns / 8)), float32, or None
        Balanced red, green and blue of unit sum, and the level where all clip, a cell each;
        None where the frame has nothing clipped, or is smaller than a cell.
    """
    brightest = (float(mosaic.max()) - sensor.black.min()) * sensor.scale.max()
    if min(mosaic.shape) < CELL or brightest < CLIP:
        return None
    rows, columns = (-(-size // CELL) for size in mosaic.shape)
    cells = np.empty((4, rows, columns), np.float32)
    reach = np.zeros((3, rows, columns), np.float32)
    guide = np.empty((4, rows, columns), np.float32)
    gains = np.asarray(balance, np.float32)
    _survey(mosaic, sensor, cells)
    _weigh_ratios(_flat(cells), gains)
    _to_hue(_flat(pull_push(cells[:3])), _flat(guide))
    _survey_reach(mosaic, sensor, gains, guide, reach)
    _weigh_reach(_flat(reach))
    _to_level(_flat(pull_push(reach[:2])), gains.max(), _flat(guide))
    return guide


def _flat(planes):
    return planes.reshape(len(planes), -1)


def rebuild_highlights(tile, y0, x0, guide, balance, factor=1):
    """Rebuild a developed tile's clipped channels, in place.

    Parameters
    ----------
    tile : ndarray, shape (3, rows, columns), float32
        Camera RGB, black 0, clipping at 1, not balanced.
    y0, x0 : int
        Where the tile starts in the frame.
    guide : ndarray
        From `highlight_guide`.
    balance : array_like, shape (3,)
        The gains given to `highlight_guide`.
    factor : int
        By how much the frame that the tile is a part of is reduced.
    """
    _rebuild(tile, y0, x0, guide, np.asarray(balance, np.float32), np.float32(CELL / factor))


@compiled
def _survey(mosaic, sensor, cells):
    """A cell's weighted unclipped red and blue, the weight, and the weighted green.

    They are in this order so that what is spread together lies together in memory.
    The weight is the square of the brightest channel: next to a lamp, the glow counts and the
    night around it does not.  Every second row of 2x2 blocks is looked at.  Cells at the far edges
    are moved inwards to be whole.
    """
    size = mosaic.shape[1] // 2 * 2
    last_row = mosaic.shape[0] // 2 * 2 - CELL
    columns = column_levels(sensor, 0, size)
    blocks, sums = np.empty((4, size // 2), np.float32), np.empty((4, size // 2), np.float32)
    weight = np.empty_like(sums[0])
    share = np.float32(8 / (CELL * CELL))
    for i in range(cells.shape[1]):
        sums[:] = 0
        for y in range(0, CELL, 4):
            first = min(CELL * i, last_row) + y
            sum_rows(mosaic, first, first + 2, 0, columns, sensor, blocks)
            _weigh(blocks[0], blocks[1], blocks[2], weight)
            for k, weighted in enumerate((0, 3, 1)):
                _accumulate(blocks[k], weight, sums[weighted])
            _add(weight, sums[2])
        for k in range(4):
            _join(sums[k], share, cells[k, i])


@inner
def _weigh(red, green, blue, weight):
    for x in range(weight.size):
        bright = max(max(red[x], green[x]), blue[x])
        weight[x] = bright * bright if bright < ONSET else np.float32(0)


@inner
def _accumulate(values, weight, weighted):
    for x in range(weighted.size):
        weighted[x] = weighted[x] + weight[x] * values[x]


@inner
def _add(values, total):
    for x in range(total.size):
        total[x] = total[x] + values[x]


@inner
def _join(values, share, cells):
    """Sums of four neighbours, times `share`; the last four make the last cell."""
    for x in range(values.size // 4):
        cells[x] = _four(values, 4 * x) * share
    cells[-1] = _four(values, values.size - 4) * share


@inner
def _four(values, x):
    return values[x] + values[x + 1] + values[x + 2] + values[x + 3]


@compiled
def _weigh_ratios(cells, gains):
    """Weighted red and blue become stops from green to them, times the weight; in place."""
    red, blue, weight, green = cells[0], cells[1], cells[2], cells[3]
    for x in range(weight.size):
        w = weight[x]
        least = TINY * w + LEAST
        middle = log2(max(green[x] * gains[1], least))
        red[x] = w * (log2(max(red[x] * gains[0], least)) - middle)
        blue[x] = w * (log2(max(blue[x] * gains[2], least)) - middle)


@compiled
def _to_hue(ratios, hue):
    """Red, green and blue of unit sum."""
    to_red, to_blue = ratios[0], ratios[1]
    red, green, blue = hue[0], hue[1], hue[2]
    for x in range(to_red.size):
        r, b = exp2(clamp(to_red[x], -PUREST, PUREST)), exp2(clamp(to_blue[x], -PUREST, PUREST))
        total = r + np.float32(1) + b
        red[x], green[x], blue[x] = r / total, np.float32(1) / total, b / total


@compiled
def _survey_reach(mosaic, sensor, gains, hue, reach):
    """What the 2x2 blocks at the rim of what is clipped tell of its light, added to a cell each.

    Behind the rim is what is clipped whole, and no darker. Light falls off smoothly there; where
    one of the blocks four pixels away is far darker, an edge is near, and a block tells nothing.
    """
    size, rows = mosaic.shape[1] // 2, 2 * reach.shape[1]
    columns, blocks = column_levels(sensor, 0, 2 * size), np.empty((3, 4, size), np.float32)
    _read_blocks(mosaic, 0, columns, sensor, blocks[0])
    for k in range(rows):
        above, here = blocks[(max(k, 1) - 1) % 3], blocks[k % 3]
        below = blocks[min(k + 1, rows - 1) % 3]
        if k + 1 < rows:
            _read_blocks(mosaic, k + 1, columns, sensor, below)
        if not _any_above(here[0], here[1], here[2], ONSET):
            continue
        for x in range(2, size - 2):
            beside = min(min(here[3, x - 2], here[3, x + 2]), min(above[3, x], below[3, x]))
            if here[3, x] > ONSET and beside > STEADY:
                i, j = k // 2, x // (CELL // 2)
                _add_reach(here[:3, x], gains, hue[:3, i, j], reach[:, i, j])


@inner
def _read_blocks(mosaic, k, columns, sensor, blocks):
    """Colours of a row of 2x2 blocks, the k-th that is looked at, two in a cell; and the brightest
    of the three in the fourth row."""
    y = min(CELL * (k // 2), mosaic.shape[0] // 2 * 2 - CELL) + 4 * (k % 2)
    sum_rows(mosaic, y, y + 2, 0, columns, sensor, blocks)
    red, green, blue, brightest = blocks[0], blocks[1], blocks[2], blocks[3]
    for x in range(brightest.size):
        brightest[x] = max(max(red[x], green[x]), blue[x])


@inner
def _add_reach(block, gains, hue, reach):
    """What is left of a block's channels tells the light, as in `_rebuild_pixel`.

    Of that, the stops of the brightest channel times a weight, the weight, and the part of it that
    says how well the block can tell: how far it is clipped, and how far the least clipped channel
    is not. The rest is the light to the fourth power, so that the brightest of a rim counts.
    """
    one = np.float32(1)
    signal, share, most, least = np.float32(0), TINY, np.float32(0), one
    for k in range(3):
        left = one - _clipped_part(block[k])
        signal += left * block[k] * gains[k]
        share += left * hue[k]
        most, least = max(most, left), min(least, left)
    told = signal / share * max(max(hue[0], hue[1]), hue[2])
    square, trust = told * told, (one - least) * most
    weight = trust * square * square
    reach[0] += weight * log2(max(told, TINY))
    reach[1] += weight
    reach[2] += trust


@compiled
def _weigh_reach(reach):
    """Sums become stops times a cell's weight, and the weight; in place."""
    stops, total, trust = reach[0], reach[1], reach[2]
    for x in range(stops.size):
        weight = BLOCK_WEIGHT * trust[x]
        stops[x] = weight * stops[x] / max(total[x], LEAST)
        total[x] = weight


@compiled
def _to_level(stops, least, guide):
    stops, level = stops[0], guide[3]
    for x in range(stops.size):
        level[x] = max(exp2(stops[x]), least)


@inner
def _any_above(a, b, c, limit):
    count = np.int32(0)
    for x in range(a.size):
        above = a[x] > limit or b[x] > limit or c[x] > limit
        count += np.int32(1) if above else np.int32(0)
    return count > 0


@inner
def _clipped_part(signal):
    return smooth((signal - ONSET) / (CLIP - ONSET))


@inner
def _cells_about(position, cell, size):
    """The two guide cells around a pixel, and the second one's share."""
    place = (np.float32(position) + np.float32(0.5)) / cell - np.float32(0.5)
    place = min(max(place, np.float32(0)), np.float32(size - 1))
    first = int(place)
    return first, min(first + 1, size - 1), place - np.float32(first)


@compiled
def _rebuild(tile, y0, x0, guide, gains, cell):
    one = np.float32(1)
    blended = np.empty((4, guide.shape[2]), np.float32)
    for y in range(tile.shape[1]):
        if not _any_above(tile[0, y], tile[1, y], tile[2, y], ONSET):
            continue
        above, below, part = _cells_about(y0 + y, cell, guide.shape[1])
        for k in range(4):
            for j in range(guide.shape[2]):
                blended[k, j] = (one - part) * guide[k, above, j] + part * guide[k, below, j]
        for x in range(tile.shape[2]):
            if max(max(tile[0, y, x], tile[1, y, x]), tile[2, y, x]) > ONSET:
                columns = _cells_about(x0 + x, cell, guide.shape[2])
                _rebuild_pixel(tile, y, x, columns, blended, gains)


@inner
def _rebuild_pixel(tile, y, x, columns, guide, gains):
    one = np.float32(1)
    left, right, part = columns
    everything, signal, hue = one, np.float32(0), TINY
    for k in range(3):
        clipped = _clipped_part(tile[k, y, x])
        share = (one - part) * guide[k, left] + part * guide[k, right]
        everything = everything * clipped
        signal = signal + (one - clipped) * gains[k] * tile[k, y, x]
        hue = hue + (one - clipped) * share
    level = signal / hue
    white = (one - part) * guide[3, left] + part * guide[3, right]
    for k in range(3):
        share = (one - part) * guide[k, left] + part * guide[k, right]
        told = ((one - everything) * level * share + everything * white) / gains[k]
        rise = max(told - tile[k, y, x], np.float32(0))
        tile[k, y, x] = tile[k, y, x] + _clipped_part(tile[k, y, x]) * rise
