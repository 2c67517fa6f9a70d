"""A bilateral grid: the edge-aware base of a frame, by place and by brightness.

Chen, Paris and Durand, ACM Transactions on Graphics 26(3):103, 2007. A cell gathers the log
luminance of what lies near it in place and in brightness alike. So a pixel finds the mean of its
like about it, and what stands beyond an edge has no part in it, not even one pixel from the edge.
A cell holds how far that mean is from its own brightness; one with nothing of its kind about it
takes after the nearest in brightness.
"""

from typing import NamedTuple

import numpy as np

from grading.colour.spaces import MIDDLE_GREY
from grading.kernels.base import LUMINANCE, blocks_around
from grading.kernels.primitives import (
    aligned,
    between,
    bits,
    clamp,
    compiled,
    dot,
    f32,
    from_bits,
    i32,
    inner,
    log2,
    u32,
    u64,
)

FLOOR, CEILING = np.float32(2.0**-16), np.float32(2.0**16)
"""Luminance that replaces anything darker, and anything lighter."""

LEVEL = 0.6
"""Stops from one level of brightness to the next where pixels are gathered; ours."""

FINER = 2
"""Levels of the finished grid for each of these."""

REACH = 2
"""Cells on either side whose pixels have a part in the mean, in each direction."""

NEIGHBOUR = 1e-3
"""Weight of the next level where a cell has pixels of its own, so that those without take after the
nearest that has some; ours."""

STEEPEST = 0.14
"""By how much the base may rise faster than the brightness that it is read for, in stops a stop. A
steeper one would turn soft edges about where it is subtracted; ours."""


class Grid(NamedTuple):
    """The grid of a frame.

    Attributes
    ----------
    cells : ndarray, shape (rows, columns, levels), float32
        Stops from a cell's own brightness to the mean about it. The last column is there twice.
    low : float32
        Brightness of the first level, in stops from middle grey.
    size : float
        Of a cell, in pixels of the reduced frame.
    """

    cells: np.ndarray
    low: np.float32
    size: float


class PlacedGrid(NamedTuple):
    """The cells about a tile, and where its pixels lie between them.

    ``cells`` and ``low`` are as in `Grid`. ``rows`` are the rows of cells above and below each row
    of pixels, and the share of the latter; ``columns`` the places in a row of cells, with its
    levels, of the cells left of each column of pixels, and the share of those right of it.
    """

    cells: np.ndarray
    low: np.float32
    rows: tuple[np.ndarray, np.ndarray, np.ndarray]
    columns: tuple[np.ndarray, np.ndarray]


def bilateral_grid(reduced: np.ndarray, size: float) -> Grid:
    """The grid of a frame; of each cell and the two on either side, by weights 1 4 6 4 1.

    Parameters
    ----------
    reduced : ndarray, shape (3, rows, columns), float32
        Linear light of the whole frame at reduced size.
    size : float
        Of a cell, as a fraction of the long edge.

    Returns
    -------
    Grid
    """
    stops = np.empty(reduced.shape[1:], np.float32)
    _stops_from_grey(reduced.reshape(3, -1), stops.ravel())
    size = max(1.0, size * max(stops.shape))
    low = np.float32(stops.min() - REACH * LEVEL)
    levels = int((stops.max() - low) / LEVEL + 0.5) + REACH + 1
    rows, columns = (int((n - 1) / size) + 1 for n in stops.shape)
    gathered = np.zeros((2, rows, columns, levels))
    _gather(stops, size, low, 1 / LEVEL, gathered)
    for many, apart in ((2, columns * levels), (2 * rows, levels), (2 * rows * columns, 1)):
        gathered = _smoothed(gathered.reshape(many, -1), apart)
    total, count = gathered.reshape(2, rows * columns, levels)
    own = low + LEVEL * np.arange(levels)
    cells = np.empty((rows, columns + 1, FINER * (levels - 1) + 1), np.float32)
    _deviations_of_cells(total - own * count, count, cells[:, :-1])
    cells[:, -1] = cells[:, -2]
    return Grid(cells, low, size)


@compiled
def _stops_from_grey(x, out):
    """Stops from middle grey of the luminance of pixels, shape (3, n)."""
    r, g, b = x[0], x[1], x[2]
    for i in range(out.size):
        out[i] = _stops(luminance(r[i], g[i], b[i]))


@inner
def luminance(r, g, b):
    """Of linear BT.2020, between `FLOOR` and `CEILING`."""
    wr, wg, wb = LUMINANCE
    return clamp(dot(wr, wg, wb, r, g, b), FLOOR, CEILING)


@inner
def _stops(y):
    return log2(y * f32(1 / MIDDLE_GREY))


@compiled
def _gather(stops, size, low, per_stop, out):
    """Add each pixel, and 1, to the cell that it falls into."""
    total, count = out
    for y in range(stops.shape[0]):
        row = int(y / size)
        for x in range(stops.shape[1]):
            column, level = int(x / size), int((stops[y, x] - low) * per_stop + 0.5)
            total[row, column, level] += stops[y, x]
            count[row, column, level] += 1


@compiled
def _smoothed(x, apart):
    """Sums along rows by weights 1 4 6 4 1 of 16, of every so manieth; there is nothing beyond."""
    out, padded = np.empty(x.shape), np.zeros(x.shape[1] + 2 * REACH * apart)
    least, less, most = 1 / 16, 4 / 16, 6 / 16
    a, b, c = padded, padded[apart:], padded[2 * apart :]
    d, e = padded[3 * apart :], padded[4 * apart :]
    for i in range(x.shape[0]):
        row, target = x[i], out[i]
        for n in range(row.size):
            c[n] = row[n]
        for n in range(target.size):
            before = (least * a[n] + less * b[n]) + most * c[n]
            target[n] = (before + less * d[n]) + least * e[n]
    return out


@compiled
def _deviations_of_cells(total, count, out):
    """Means, taken from the nearest level where there are none, between them linear.

    Levels of a row of cells are rows here, so that all loops run along them.
    """
    rows, columns, levels = out.shape
    shape = total.shape[1], columns
    (t, c, mean), line = np.empty((3, *shape)), np.empty((levels, columns), np.float32)
    for y in range(rows):
        for x in range(columns):
            for k in range(shape[0]):
                t[k, x], c[k, x] = total[y * columns + x, k], count[y * columns + x, k]
        below, above = _carried(t, c), _carried(t[::-1], c[::-1])[:, ::-1]
        for k in range(shape[0]):
            for x in range(columns):
                n = below[1, k, x] + above[1, k, x] - c[k, x]
                mean[k, x] = (below[0, k, x] + above[0, k, x] - t[k, x]) / n
        for k in range(levels):
            before, step = mean[k // FINER], k % FINER
            after = mean[min(k // FINER + 1, shape[0] - 1)]
            for x in range(columns):
                line[k, x] = before[x] + (after[x] - before[x]) * step / FINER
        _limit_rise(line)
        for x in range(columns):
            for k in range(levels):
                out[y, x, k] = line[k, x]


@inner
def _limit_rise(deviations):
    """Bring what rises too fast nearer to 0, so that what is as it is about it stays so."""
    rise = f32(STEEPEST * LEVEL / FINER)
    levels, columns = deviations.shape
    for k in range(1, levels):
        here, before = deviations[k], deviations[k - 1]
        for x in range(columns):
            here[x] = min(here[x], max(before[x], f32(0)) + rise)
    for k in range(levels - 2, -1, -1):
        here, after = deviations[k], deviations[k + 1]
        for x in range(columns):
            here[x] = max(here[x], min(after[x], f32(0)) - rise)


@inner
def _carried(total, count):
    """Sums and counts with a little of those before."""
    levels, columns = total.shape
    out = np.empty((2, levels, columns))
    for x in range(columns):
        out[0, 0, x], out[1, 0, x] = total[0, x], count[0, x]
    for k in range(1, levels):
        for x in range(columns):
            out[0, k, x] = total[k, x] + NEIGHBOUR * out[0, k - 1, x]
            out[1, k, x] = count[k, x] + NEIGHBOUR * out[1, k - 1, x]
    return out


def spread(grid: Grid, factor: int, y0: int, y1: int, x0: int, x1: int) -> PlacedGrid:
    """A grid as it lies on a tile.

    Parameters
    ----------
    grid : Grid
    factor : int
        Pixels of the frame, each way, of one of the reduced frame.
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.

    Returns
    -------
    PlacedGrid
    """
    rows, columns, levels = grid.cells.shape
    pitch = factor * grid.size
    above, below, down = blocks_around(y0, y1, pitch, rows)
    left, _, over = blocks_around(x0, x1, pitch, columns - 1)
    top, first = above[0], left[0]
    cells = np.ascontiguousarray(grid.cells[top : below[-1] + 1, first : left[-1] + 2])
    places = ((left - first) * levels).astype(np.uint32)
    return PlacedGrid(cells, grid.low, (above - top, below - top, down), (places, over))


@inner
def buffers(grid):
    """Room for what `deviations` computes of a row, in the order of its arguments."""
    cells, width = grid.cells.shape[1] * grid.cells.shape[2], grid.columns[1].size
    pairs, places = np.empty(cells, np.uint64), np.empty(width, np.uint32)
    low, high = np.empty(width, np.uint64), np.empty(width, np.uint64)
    return pairs, low, high, places, aligned((4, width))


@inner
def deviations(grid, rgb, y, room):
    """Of a row of a tile the luminance, its stops from middle grey, and from these to the base.

    The four neighbours of a pixel in place and brightness come as two pairs, since each look-up
    takes as long as all of the arithmetic.
    """
    pairs, low, high, places, lines = room
    levels, (left, over) = u32(grid.cells.shape[2]), grid.columns
    _pairs_of_cells(grid, y, pairs)
    light, stops, share, deviation = lines[0], lines[1], lines[2], lines[3]
    r, g, b = rgb[0, y], rgb[1, y], rgb[2, y]
    per_stop, last = f32(FINER / LEVEL), f32(levels) - f32(1.001)
    for x in range(over.size):
        light[x] = luminance(r[x], g[x], b[x])
        stops[x] = _stops(light[x])
        level = clamp((stops[x] - grid.low) * per_stop, f32(0), last)
        whole = i32(level)
        share[x] = level - f32(whole)
        places[x] = u32(left[x] + u32(whole))
    for x in range(over.size):
        place = places[x]
        low[x] = pairs[place]
        high[x] = pairs[u32(place + levels)]
    for x in range(over.size):
        deviation[x] = between(_within(low[x], share[x]), _within(high[x], share[x]), over[x])
    return light, stops, deviation


@inner
def _pairs_of_cells(grid, y, pairs):
    """Each cell of a row, interpolated from those above and below, with the next level's."""
    above, below, down = grid.rows
    a, b, share = grid.cells[above[y]].reshape(-1), grid.cells[below[y]].reshape(-1), down[y]
    for i in range(pairs.size - 1):
        here, next = between(a[i], b[i], share), between(a[i + 1], b[i + 1], share)
        pairs[i] = (u64(bits(next)) << u64(32)) | u64(bits(here))


@inner
def _within(pair, share):
    """From the first of a pair to its second by a share of the way."""
    return between(from_bits(u32(pair)), from_bits(u32(pair >> u64(32))), share)
