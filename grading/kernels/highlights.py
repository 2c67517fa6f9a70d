"""Clipped channels rebuilt from the ones that are not.

The colour of a light is looked up around it: a guide of the frame at a small fraction of its size
holds the hue of the bright, unclipped surroundings, carried into the clipped places by a pull-push
pyramid (Gortler, Grzeszczuk, Szeliski and Cohen, "The lumigraph", SIGGRAPH 1996), and the level
the light reaches there.  In the pixel, what is not clipped gives the level, the guide's hue gives
the clipped channels, and a clipped channel is never taken below where it clipped (after Zhang and
Brainard, "Estimation of saturated pixel values in digital color imaging", JOSA A 21, 2004, and
Masood, Zhu and Tappen, "Automatic correction of saturated regions in photographs using
cross-channel correlation", CGF 28, 2009).  Where nothing is left, the light is neutral, at the
level its surroundings reach.
"""

import numpy as np

from grading.kernels.mosaic import bin_into
from grading.kernels.primitives import compiled

CELL = 8
ONSET, CLIP = np.float32(0.9), np.float32(0.985)
TRUST = 0.02
TINY = np.float32(1e-6)
THIRD = np.float32(1 / 3)


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
        Balanced red, green and blue of unit sum, and the level (the balanced sum), a cell each;
        None where the frame has nothing clipped, or is smaller than a cell.
    """
    brightest = (float(mosaic.max()) - sensor.black.min()) * sensor.scale.max()
    if min(mosaic.shape) < CELL or brightest < CLIP:
        return None
    height, width = mosaic.shape
    cells = np.empty((7, -(-height // CELL), -(-width // CELL)), np.float32)
    _survey(mosaic, sensor, cells)
    gains = np.asarray(balance, np.float32)[:, None, None]
    hue = _hue(cells[:3] * gains, cells[3])
    return np.concatenate((hue, _level(cells[4:], gains, hue)[None]))


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
    """A cell's weighted unclipped colour (0 to 2), the weight (3) and its mean colour (4 to 6).

    The weight is the square of the brightest channel: next to a lamp, the glow counts and the
    night around it does not.  Every second row of 2x2 blocks is looked at.  Cells at the far edges
    are moved inwards to be whole.
    """
    rows, columns = cells.shape[1:]
    side = CELL // 2
    last_row, last_column = mosaic.shape[0] // 2 - side, mosaic.shape[1] // 2 - side
    blocks = np.empty((3, 1, mosaic.shape[1] // 2), np.float32)
    sums = np.empty((7, blocks.shape[2]), np.float32)
    weight = np.empty_like(sums[0])
    share = np.float32(8 / (CELL * CELL))
    for i in range(rows):
        sums[:] = 0
        for y in range(0, side, 2):
            bin_into(mosaic, min(i * side, last_row) + y, 0, 2, sensor, blocks)
            _weigh(blocks[0, 0], blocks[1, 0], blocks[2, 0], weight)
            for k in range(3):
                _accumulate(blocks[k, 0], weight, sums[k])
                _add(blocks[k, 0], sums[4 + k])
            _add(weight, sums[3])
        for k in range(7):
            for j in range(columns):
                first = min(j * side, last_column)
                cells[k, i, j] = sums[k, first : first + side].sum() * share


@compiled
def _weigh(red, green, blue, weight):
    for x in range(weight.size):
        bright = red[x] if red[x] > green[x] else green[x]
        bright = blue[x] if blue[x] > bright else bright
        weight[x] = bright * bright if bright < ONSET else np.float32(0)


@compiled
def _accumulate(values, weight, total):
    for x in range(total.size):
        total[x] = total[x] + weight[x] * values[x]


@compiled
def _add(values, total):
    for x in range(total.size):
        total[x] = total[x] + values[x]


def _hue(weighted, weight):
    """Balanced colour of unit sum; log ratios to green are what spreads."""
    logs = np.log(np.maximum(weighted, TINY * weight + 1e-20))
    ratios = np.stack((logs[0] - logs[1], logs[2] - logs[1]))
    ratios = np.exp(np.clip(_pull_push(ratios, weight), -5, 5))
    colour = np.stack((ratios[0], np.ones_like(ratios[0]), ratios[1]))
    return colour / colour.sum(0)


def _level(mean, gains, hue):
    """Balanced sum a cell's light reaches, spread from where a channel is left to tell."""
    left = 1 - _ramp(mean)
    told = (left * mean * gains).sum(0) / np.maximum((left * hue).sum(0), TINY)
    least = 3 * gains.max()
    weight = left.max(0) * np.clip(mean.max(0), 0, 1) ** 2
    level = np.exp(_pull_push(np.log(np.maximum(told, TINY))[None], weight)[0])
    return np.maximum(level, least).astype(np.float32)


def _ramp(signal):
    t = np.clip((signal - ONSET) / (CLIP - ONSET), 0, 1)
    return t * t * (3 - 2 * t)


def _pull_push(values, weight):
    """Fill where the weight is small from where it is not, coarser and coarser."""
    if min(weight.shape) < 2:
        total = weight.sum()
        mean = (values * weight).sum((1, 2), keepdims=True) / max(total, 1e-20)
        return np.where(total > 0, mean, 0) + np.zeros_like(values)
    coarse_weight = _halve(weight)
    coarse = _halve(values * weight) / np.maximum(coarse_weight, 1e-20)
    filled = _double(_pull_push(coarse, coarse_weight), weight.shape)
    own = weight / (weight + TRUST)
    return own * values + (1 - own) * filled


def _halve(values):
    """Means of 2x2 cells; an odd edge repeats its last cell."""
    odd = [(0, 0)] * (values.ndim - 2) + [(0, n % 2) for n in values.shape[-2:]]
    even = np.pad(values, odd, mode="edge")
    tall = even[..., ::2, :] + even[..., 1::2, :]
    return (tall[..., ::2] + tall[..., 1::2]) / 4


def _double(values, shape):
    """Bilinear, cell centre to cell centre."""
    for axis, size in zip((-2, -1), shape, strict=True):
        position = np.clip((np.arange(size) - 0.5) / 2, 0, values.shape[axis] - 1)
        first = position.astype(int)
        second = np.minimum(first + 1, values.shape[axis] - 1)
        part = (position - first).astype(np.float32)
        part = part[:, None] if axis == -2 else part
        values = (1 - part) * values.take(first, axis) + part * values.take(second, axis)
    return values


@compiled
def _any_above(a, b, c, limit):
    count = np.int32(0)
    for x in range(a.size):
        above = a[x] > limit or b[x] > limit or c[x] > limit
        count += np.int32(1) if above else np.int32(0)
    return count > 0


@compiled
def _clipped_part(signal):
    one = np.float32(1)
    t = min(max((signal - ONSET) / (CLIP - ONSET), np.float32(0)), one)
    return t * t * (np.float32(3) - np.float32(2) * t)


@compiled
def _between(position, cell, size):
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
        above, below, part = _between(y0 + y, cell, guide.shape[1])
        for k in range(4):
            for j in range(guide.shape[2]):
                blended[k, j] = (one - part) * guide[k, above, j] + part * guide[k, below, j]
        for x in range(tile.shape[2]):
            if max(max(tile[0, y, x], tile[1, y, x]), tile[2, y, x]) > ONSET:
                columns = _between(x0 + x, cell, guide.shape[2])
                _rebuild_pixel(tile, y, x, columns, blended, gains)


@compiled
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
    white = ((one - part) * guide[3, left] + part * guide[3, right]) * THIRD
    for k in range(3):
        share = (one - part) * guide[k, left] + part * guide[k, right]
        told = ((one - everything) * level * share + everything * white) / gains[k]
        rise = max(told - tile[k, y, x], np.float32(0))
        tile[k, y, x] = tile[k, y, x] + _clipped_part(tile[k, y, x]) * rise
