"""Luminance, and guides of reduced size brought to the pixels of a tile."""

from functools import lru_cache

import numpy as np

from grading.colour.spaces import MIDDLE_GREY
from grading.kernels.primitives import aligned, between, compiled, dot, f32, inner, log2

LUMINANCE = (np.float32(0.2627), np.float32(0.6780), np.float32(0.0593))
"""Weights of linear BT.2020 R, G, B (Recommendation ITU-R BT.2020-2, table 4)."""

FLOOR = np.float32(2.0**-16)
"""Luminance that replaces anything darker."""


def box_mean(plane: np.ndarray, reach: int) -> np.ndarray:
    """Mean of the (2 reach + 1)-square about each pixel, cut off at the borders.

    Parameters
    ----------
    plane : ndarray, shape (rows, columns)
    reach : int

    Returns
    -------
    ndarray, shape (rows, columns), float64
    """
    return _mean_down(_mean_across(plane, reach), reach)


@compiled
def _mean_across(plane, reach):
    columns = plane.shape[1]
    out = np.empty(plane.shape)
    for y in range(plane.shape[0]):
        row, total = plane[y], 0.0
        for x in range(min(reach, columns)):
            total += row[x]
        for x in range(columns):
            if x + reach < columns:
                total += row[x + reach]
            if x > reach:
                total -= row[x - reach - 1]
            out[y, x] = total / (min(x + reach + 1, columns) - max(x - reach, 0))
    return out


@compiled
def _mean_down(plane, reach):
    rows, columns = plane.shape
    out, total, nothing = np.empty((rows, columns)), np.zeros(columns), np.zeros(columns)
    for y in range(min(reach, rows)):
        for x in range(columns):
            total[x] += plane[y, x]
    for y in range(rows):
        entering = plane[y + reach] if y + reach < rows else nothing
        leaving = plane[y - reach - 1] if y > reach else nothing
        count = min(y + reach + 1, rows) - max(y - reach, 0)
        _slide_window(total, entering, leaving, count, out[y])
    return out


@inner
def _slide_window(total, entering, leaving, count, mean):
    for x in range(total.size):
        total[x] = (total[x] + entering[x]) - leaving[x]
        mean[x] = total[x] / count


def stops_from_grey(rgb: np.ndarray) -> np.ndarray:
    """Luminance in stops from middle grey, that of `FLOOR` at least.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear BT.2020.

    Returns
    -------
    ndarray, shape (rows, columns), float32
    """
    stops = np.empty(rgb.shape[1:], np.float32)
    _stops_from_grey(rgb.reshape(3, -1), stops.ravel())
    return stops


@compiled
def _stops_from_grey(x, out):
    r, g, b = x[0], x[1], x[2]
    wr, wg, wb = LUMINANCE
    for i in range(out.size):
        y = dot(wr, wg, wb, r[i], g[i], b[i])
        y = y if y > FLOOR else FLOOR
        out[i] = log2(y * f32(1 / MIDDLE_GREY))


def interpolate(planes: np.ndarray, factor: int, y0: int, y1: int, x0: int, x1: int) -> np.ndarray:
    """Planes at reduced size, interpolated linearly to the pixels of a tile.

    Parameters
    ----------
    planes : ndarray, shape (n, rows, columns), float32
        Each value belongs to the middle of a block of factor x factor pixels.
    factor : int
        A power of two.
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.

    Returns
    -------
    ndarray, shape (n, y1 - y0, x1 - x0), float32
    """
    rows = blocks_around(y0, y1, factor, planes.shape[1])
    columns = blocks_around(x0, x1, factor, planes.shape[2])
    return between_blocks(planes, rows, columns)


@lru_cache(maxsize=1024)
def blocks_around(start, stop, factor, size):
    """Indices of the blocks of `factor` pixels about each pixel, and the share of the latter."""
    place = np.maximum((np.arange(start, stop) + 0.5) / factor - 0.5, 0)
    before = place.astype(np.int64)
    after = np.minimum(before + 1, size - 1)
    return before, after, (place - before).astype(np.float32)


@compiled
def between_blocks(
    planes: np.ndarray,
    rows: tuple[np.ndarray, np.ndarray, np.ndarray],
    columns: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> np.ndarray:
    """Planes at places between their entries, linearly.

    Parameters
    ----------
    planes : ndarray, shape (n, rows, columns), float32
    rows, columns : tuple of three ndarray
        For each place the entries before and after, int64, in rising order, and the share of the
        latter, float32.

    Returns
    -------
    ndarray, shape (n, places down, places across), float32
    """
    above, below, down = rows
    left, right, over = columns
    out = aligned((planes.shape[0], down.size, over.size))
    first = above[0]
    across = aligned((below[-1] - first + 1, over.size))
    for n in range(out.shape[0]):
        for y in range(across.shape[0]):
            source, line = planes[n, first + y], across[y]
            for x in range(line.size):
                line[x] = between(source[left[x]], source[right[x]], over[x])
        for y in range(out.shape[1]):
            low, high = across[above[y] - first], across[below[y] - first]
            share, line = down[y], out[n, y]
            for x in range(line.size):
                line[x] = between(low[x], high[x], share)
    return out
