"""Weights of masks, for the pixels of a tile: of shapes on the frame, and of what its light is."""

from collections.abc import Sequence

import numpy as np

from grading.kernels.picture import look_up, places_of_hue
from grading.kernels.primitives import aligned, compiled, f32, fma, i32, inner, smooth

RUN = 1024
"""Pixels that a kernel of several loops takes at a time, as in `grading.kernels.picture`."""


def ramp(
    y0: int, y1: int, x0: int, x1: int, end: Sequence[float], way: Sequence[float], feather: float
) -> np.ndarray:
    """Weight of a straight fade: 0 at `end`, 1 where (place - end) . way reaches 1.

    Parameters
    ----------
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.
    end, way : sequence of 2 floats
        (x, y) in pixels, and per pixel.
    feather : float
        Share of the way that the fade takes, about its middle; 0 is a hard edge.

    Returns
    -------
    ndarray, shape (y1 - y0, x1 - x0), float32 in 0..1
    """
    start = -(way[0] * end[0] + way[1] * end[1])
    slope = f32(way[0]), f32(way[1]), f32(start)
    return _ramp((y1 - y0, x1 - x0), y0, x0, slope, f32(max(feather, 1e-4)))


@compiled
def _ramp(shape, y0, x0, slope, feather):
    out = aligned(shape)
    across, down, start = slope
    for y in range(out.shape[0]):
        row = out[y]
        here = start + f32(y + y0) * down
        for x in range(row.size):
            t = fma(f32(x + x0), across, here)
            row[x] = smooth((t - f32(0.5)) / feather + f32(0.5))
    return out


def oval(
    y0: int,
    y1: int,
    x0: int,
    x1: int,
    centre: Sequence[float],
    radius: Sequence[float],
    turn: float,
    feather: float,
) -> np.ndarray:
    """Weight of an oval: 1/2 on its edge, 1 further in and 0 further out.

    Parameters
    ----------
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.
    centre, radius : sequence of 2 floats
        (x, y) and (across, along) in pixels.
    turn : float
        Radians, anticlockwise as seen.
    feather : float
        Width of the fade as a fraction of the radius.

    Returns
    -------
    ndarray, shape (y1 - y0, x1 - x0), float32 in 0..1
    """
    cosine, sine = np.cos(turn), np.sin(turn)
    axes = np.array([[cosine, -sine], [sine, cosine]]) / np.array(radius)[:, None]
    shape = y1 - y0, x1 - x0
    return _oval(shape, y0, x0, np.float32(centre), np.float32(axes), f32(max(feather, 1e-4)))


@compiled
def _oval(shape, y0, x0, centre, axes, feather):
    out = aligned(shape)
    for y in range(out.shape[0]):
        row = out[y]
        down = f32(y + y0) - centre[1]
        for x in range(row.size):
            right = f32(x + x0) - centre[0]
            u = axes[0, 0] * right + axes[0, 1] * down
            v = axes[1, 0] * right + axes[1, 1] * down
            distance = np.sqrt(u * u + v * v)
            row[x] = smooth((f32(1) - distance) / feather + f32(0.5))
    return out


def window(values: np.ndarray, above: float, below: float, feather: float) -> np.ndarray:
    """Weight of values between two ends: 1/2 at an end, with a fade about it.

    Parameters
    ----------
    values : ndarray, shape (rows, columns), float32
    above, below : float
        The ends; infinite where there is none.
    feather : float
        Width of the fade, in the unit of the values; 0 is a hard end.

    Returns
    -------
    ndarray, shape (rows, columns), float32 in 0..1
    """
    ends = np.clip([above, below], -1e9, 1e9).astype(np.float32)
    return _window(values, ends[0], ends[1], f32(1 / max(feather, 1e-4)))


@compiled
def _window(values, above, below, steep):
    out = aligned(values.shape)
    x, w = values.ravel(), out.ravel()
    for i in range(x.size):
        enters = smooth(fma(x[i] - above, steep, f32(0.5)))
        leaves = smooth(fma(below - x[i], steep, f32(0.5)))
        w[i] = enters * leaves
    return out


def hue(a: np.ndarray, b: np.ndarray, table: np.ndarray, grey: float) -> np.ndarray:
    """Weight by hue, which falls to none for greys.

    Parameters
    ----------
    a, b : ndarray, shape (rows, columns), float32
        Of Oklab.
    table : ndarray, shape (n + 1,), float32
        Weight at even steps of the diamond angle (`grading.kernels.diamond`).
    grey : float
        Chroma from which the hue counts in full; half at half of it.

    Returns
    -------
    ndarray, shape (rows, columns), float32 in 0..1
    """
    return _hue(a, b, table, f32(1 / grey))


@compiled
def _hue(a, b, table, colourful):
    out = aligned(a.shape)
    index, share = np.empty(RUN, i32), aligned((RUN,))
    u, v, w = a.ravel(), b.ravel(), out.ravel()
    for start in range(0, u.size, RUN):
        stop = min(start + RUN, u.size)
        places_of_hue(u[start:stop], v[start:stop], table.size, index, share)
        look_up(table, index, share, w[start:stop])
        _fade_greys(u[start:stop], v[start:stop], colourful, w[start:stop])
    return out


@inner
def _fade_greys(a, b, colourful, weight):
    for i in range(a.size):
        chroma = np.sqrt(fma(a[i], a[i], b[i] * b[i]))
        weight[i] *= smooth(chroma * colourful)
