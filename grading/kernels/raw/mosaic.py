"""What a Bayer mosaic's counts mean, and the two plain ways to read them.

`unweave` sorts a tile into four half-size planes, one a site, for the demosaicing, and
`weave` puts their rows together again; `bin_tile` averages whole 2x2 blocks, for pictures
of reduced size.
"""

from typing import NamedTuple

import numpy as np

from grading.kernels.primitives import borrowing, compiled, inner, u64


class Sensor(NamedTuple):
    """What turns a frame's counts into signal.

    Attributes
    ----------
    phase : tuple of int
        Row and column (0 or 1) of the red site in the frame's first 2x2 block.
    black : ndarray, shape (4,), float32
        Black level in counts of red, green beside red, green beside blue, blue.
    scale : ndarray, shape (4,), float32
        ``1 / (white - black)`` of the same four sites.
    row_black, column_black : ndarray, shape (rows,) and (columns,), float32
        What to subtract from a row or a column on top of `black`, in counts.
    noise : tuple of float
        Gain and offset of the noise variance, ``gain * signal + offset``, in normalised signal,
        as `grading.develop.noise.estimate_noise` finds them.
    """

    phase: tuple
    black: np.ndarray
    scale: np.ndarray
    row_black: np.ndarray
    column_black: np.ndarray
    noise: tuple


@inner
def mirror(index, length):
    """Reflect an index into a frame without repeating its edge, which keeps the Bayer phase."""
    period = max(2 * (length - 1), 1)
    index = index % period
    return min(index, period - index)


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]


@inner
def _mirrored(row, left, out):
    """A part of a row from column `left` on, mirrored beyond its ends."""
    first = min(max(-left, 0), out.size)
    last = min(max(row.size - left, 0), out.size)
    for x in range(first):
        out[x] = row[mirror(left + x, row.size)]
    _copy(row[left + first : left + last], out[first:last])
    for x in range(last, out.size):
        out[x] = row[mirror(left + x, row.size)]


@compiled
def unweave(mosaic, top, left, sensor, gains, planes):
    """Levels and balance, into one plane a site."""
    rows, columns = planes.shape[1:]
    counts, offset = np.empty(2 * columns, np.uint16), np.empty(2 * columns, np.float32)
    pairs, offsets = counts.view(np.uint32), np.empty((2, columns), np.float32)
    _mirrored(sensor.column_black, left, offset)
    for side in range(2):
        for x in range(columns):
            offsets[side, x] = offset[2 * x + side]
    _unweave_rows(mosaic, top, left, sensor, gains, counts, pairs, offsets, planes)


@borrowing
def _unweave_rows(mosaic, top, left, sensor, gains, counts, pairs, offsets, planes):
    rows = planes.shape[1]
    for y in range(2 * rows):
        line = mirror(top + y, mosaic.shape[0])
        _mirrored(mosaic[line], left, counts)
        for side in range(2):
            site = 2 * (y & 1) + side
            black = sensor.black[site] + sensor.row_black[line]
            scale = sensor.scale[site] * gains[(site + 1) // 2]
            target = planes[site, y // 2]
            _to_signal(pairs, np.uint32(16 * side), offsets[side], black, scale, target)


@inner
def _to_signal(pairs, shift, offset, black, scale, signal):
    """Signal of every other count: of two in 32 bits, the one that begins at a bit."""
    for x in range(signal.size):
        count = np.float32(np.uint32(pairs[x] >> shift) & np.uint32(0xFFFF))
        signal[x] = (count - black - offset[x]) * scale


@inner
def _pairs(first, second, out):
    for x in range(u64(first.size)):
        out[x + x] = first[x]
        out[x + x + u64(1)] = second[x]


@inner
def interleave(even, odd, left, out):
    """Weave two half rows, from column `left` of the woven row on."""
    half, size = left // 2, out.size // 2
    if left % 2 == 0:
        first, second = even[half : half + size], odd[half : half + size]
    else:
        first, second = odd[half : half + size], even[half + 1 : half + 1 + size]
    _pairs(first, second, out)
    if out.size % 2:
        out[-1] = odd[half + size] if left % 2 else even[half + size]


@compiled
def weave(planes, green, colours, top, left, out):
    """All three colours at every pixel of the tile, which starts at `top`, `left`."""
    _weave_rows(planes, green, colours, top, left, out)


@borrowing
def _weave_rows(planes, green, colours, top, left, out):
    for y in range(out.shape[1]):
        r, i = (top + y) & 1, (top + y) // 2
        even, odd = (green[0, i], planes[1, i]) if r == 0 else (planes[2, i], green[1, i])
        interleave(even, odd, left, out[1, y])
        for k in range(2):
            interleave(colours[k, 2 * r, i], colours[k, 2 * r + 1, i], left, out[2 * k, y])


def bin_tile(mosaic, y0, y1, x0, x1, sensor, factor=2):
    """Mean red, green and blue of the mosaic's ``factor`` x ``factor`` blocks.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts, C-contiguous.
    y0, y1, x0, x1 : int
        The tile, in blocks: inside ``rows // factor``, ``columns // factor``.
    sensor : Sensor
        Phase and levels.
    factor : int
        Even size of a block, so that each holds whole 2x2 blocks of sites.

    Returns
    -------
    ndarray, shape (3, y1 - y0, x1 - x0), float32
        Camera RGB, black 0, white 1, neither balanced nor clipped.
    """
    out = np.empty((3, y1 - y0, x1 - x0), np.float32)
    bin_into(mosaic, y0, x0, factor, sensor, out)
    return out


@inner
def _add_row(counts, black, columns, totals):
    """Add one row's counts above black, those of even columns and those of odd ones."""
    even_black, odd_black = black
    even_columns, odd_columns = columns
    even, odd = totals
    for x in range(even.size):
        even[x] = even[x] + (np.float32(counts[2 * x]) - even_black - even_columns[x])
        odd[x] = odd[x] + (np.float32(counts[2 * x + 1]) - odd_black - odd_columns[x])


@inner
def column_levels(sensor, first, last):
    """`column_black` from column `first` to before `last`: even ones and odd ones, a row each."""
    levels = np.empty((2, (last - first) // 2), np.float32)
    for side in range(2):
        for x in range(levels.shape[1]):
            levels[side, x] = sensor.column_black[first + side + 2 * x]
    return levels


@inner
def sum_rows(mosaic, y0, y1, x0, columns, sensor, sums):
    """Add up rows `y0` to before `y1` from column `x0` on, all three even, a pair of columns apart.

    `columns` are the pairs' `column_levels`. Red, green and blue are the first rows of `sums`,
    shape (4, pairs), afterwards, so that ``(y1 - y0) / 2`` pairs beside each other sum to a mean.
    """
    sums[:] = 0
    for row in range(y0, y1):
        r, c = (row - sensor.phase[0]) & 1, sensor.phase[1] & 1
        even, odd = 2 * r + c, 2 * r + 1 - c
        row_black = sensor.row_black[row]
        _add_row(
            mosaic[row, x0 : x0 + 2 * sums.shape[1]],
            (sensor.black[even] + row_black, sensor.black[odd] + row_black),
            (columns[0], columns[1]),
            (sums[even], sums[odd]),
        )
    share = sensor.scale / np.float32((y1 - y0) // 2 * ((y1 - y0) // 2))
    _to_colours(sums, (share[0], share[1], share[2], share[3]))


@inner
def _to_colours(sums, share):
    """Four sites' sums, scaled, to three colours' in the first rows."""
    first, second, third, fourth = sums[0], sums[1], sums[2], sums[3]
    for x in range(first.size):
        first[x] = first[x] * share[0]
        second[x] = np.float32(0.5) * (second[x] * share[1] + third[x] * share[2])
        third[x] = fourth[x] * share[3]


@compiled
def bin_into(mosaic, y0, x0, factor, sensor, out):
    """`bin_tile` into an array of one's own, for compiled callers."""
    height, width = out.shape[1:]
    pairs = factor // 2
    columns = column_levels(sensor, factor * x0, factor * (x0 + width))
    sums = np.empty((4, width * pairs), np.float32)
    for y in range(height):
        first = factor * (y0 + y)
        sum_rows(mosaic, first, first + factor, factor * x0, columns, sensor, sums)
        for k in range(3):
            _join(sums[k], pairs, out[k, y])


@inner
def _join(values, count, out):
    """Sums of `count` values beside each other."""
    for x in range(out.size):
        total = values[count * x]
        for step in range(1, count):
            total = total + values[count * x + step]
        out[x] = total
