"""The edge-aware base of a frame and the lift that reads it."""

from functools import lru_cache

import numpy as np

from grading.colour.spaces import MIDDLE_GREY
from grading.kernels.primitives import (
    aligned,
    between,
    channels,
    compiled,
    dot,
    exp2,
    f32,
    fma,
    inner,
    log2,
    smooth,
)

LUMINANCE = (np.float32(0.2627), np.float32(0.6780), np.float32(0.0593))
"""Weights of linear BT.2020 R, G, B (Recommendation ITU-R BT.2020-2, table 4)."""

FLOOR = np.float32(2.0**-16)
"""Luminance that replaces anything darker."""


def edge_aware_base(reduced: np.ndarray, radius: float, edge: float) -> np.ndarray:
    """Planes (slope, offset) of a guided filter on log luminance, guided by itself.

    The base at a pixel is slope * log2(luminance / 0.18) + offset, with the planes interpolated
    to it (He and Sun, arXiv:1505.00996, 2015). The slope of a window is v^2 / (v^2 + edge^4) for
    the variance v, steeper than the v / (v + edge^2) published: it parts edges from texture more
    clearly, so there is less halo and less flattening.

    Parameters
    ----------
    reduced : ndarray, shape (3, rows, columns), float32
        Linear light of the whole frame at reduced size.
    radius : float
        Of the filter's window, as a fraction of the long edge.
    edge : float
        Standard deviation in stops at which half of a difference is kept in the base.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
    """
    stops = np.empty(reduced.shape[1:], np.float32)
    _stops_from_grey(reduced.reshape(3, -1), stops.ravel())
    reach = max(1, round(radius * max(stops.shape)))
    mean = box_mean(stops, reach)
    squares = box_mean(np.square(stops, dtype=np.float64), reach)
    slope, offset = np.empty_like(mean), np.empty_like(mean)
    _slopes_and_offsets(mean.ravel(), squares.ravel(), edge**4, slope.ravel(), offset.ravel())
    return np.stack([box_mean(slope, reach), box_mean(offset, reach)]).astype(np.float32)


@compiled
def _slopes_and_offsets(mean, squares, half, slope, offset):
    """Slope and offset in each window; `half` is the squared variance of a slope of 1/2."""
    for i in range(mean.size):
        variance = squares[i] - mean[i] * mean[i]
        weight = variance * variance
        slope[i] = weight / (weight + half)
        offset[i] = (1 - slope[i]) * mean[i]


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
    rows = _blocks_around(y0, y1, factor, planes.shape[1])
    columns = _blocks_around(x0, x1, factor, planes.shape[2])
    return interpolate_between(planes, rows, columns)


@lru_cache(maxsize=1024)
def _blocks_around(start, stop, factor, size):
    """Indices of the blocks before and after each pixel, and the share of the latter."""
    place = np.maximum((np.arange(start, stop) + 0.5) / factor - 0.5, 0)
    before = place.astype(np.int64)
    after = np.minimum(before + 1, size - 1)
    return before, after, (place - before).astype(np.float32)


@compiled
def interpolate_between(planes, rows, columns):
    """Planes at pixels between their own: for rows and for columns, the index before each pixel,
    that after it, and the share of the latter."""
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


def lift(
    rgb: np.ndarray,
    planes: np.ndarray,
    shadows: float,
    highlights: float,
    shadows_from: float,
    highlights_from: float,
) -> np.ndarray:
    """Linear light scaled by two to the power of a lift that depends on the base.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    planes : ndarray, shape (2, rows, columns), float32
        Slope and offset of the base, interpolated to the same pixels.
    shadows, highlights : float32
        Stops given where the base is `shadows_from` stops or more below middle grey, and
        `highlights_from` stops or more above it.
    shadows_from, highlights_from : float

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    return _lift(
        rgb,
        planes,
        np.float32(shadows),
        np.float32(highlights),
        np.float32(-1 / shadows_from),
        np.float32(1 / highlights_from),
    )


@compiled
def _lift(rgb, planes, shadows, highlights, down, up):
    out = aligned(rgb.shape)
    r, g, b = channels(rgb)
    p, q, s = channels(out)
    slope, offset = planes[0].ravel(), planes[1].ravel()
    wr, wg, wb = LUMINANCE
    for i in range(r.size):
        y = dot(wr, wg, wb, r[i], g[i], b[i])
        y = y if y > FLOOR else FLOOR
        base = fma(slope[i], log2(y * f32(1 / MIDDLE_GREY)), offset[i])
        gain = exp2(fma(shadows, smooth(base * down), highlights * smooth(base * up)))
        p[i] = r[i] * gain
        q[i] = g[i] * gain
        s[i] = b[i] * gain
    return out
