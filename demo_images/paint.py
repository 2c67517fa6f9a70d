"""Brushes: procedural noise, soft steps, and lines shaded as tubes."""

import math
from functools import cache

import numpy as np
from numba import guvectorize

import grading.kernels.primitives  # noqa: F401 - chooses registers before any code is made

TILE = 1024


@cache
def noise_tile(seed, slope=1.8, stretch=1.0):
    """Tileable fractal noise of mean 0 and standard deviation 1, shape (TILE, TILE), float32.

    Parameters
    ----------
    seed : int
    slope : float
        Power of frequency by which amplitude falls; 1 is rough, 2 is soft.
    stretch : float
        How many times longer features are along columns than along rows.
    """
    rng = np.random.default_rng(seed)
    fy = np.fft.fftfreq(TILE)[:, None]
    fx = np.fft.rfftfreq(TILE)[None] * stretch
    spectrum = np.fft.rfft2(rng.standard_normal((TILE, TILE)))
    radius = np.hypot(fy, fx)
    radius[0, 0] = np.inf
    tile = np.fft.irfft2(spectrum * radius**-slope, s=(TILE, TILE))
    return ((tile - tile.mean()) / tile.std()).astype(np.float32)


@guvectorize(["(f4[:,:],f4,f4,f4[:])", "(f4[:,:],f8,f8,f4[:])"],
             "(h,w),(),()->()", nopython=True, cache=True)
def sample(tile, u, v, out):
    """Bilinear, wrapping look-up in a noise tile at columns `u` and rows `v`."""
    column, row = math.floor(u), math.floor(v)
    du, dv = u - column, v - row
    c0, r0 = int(column) & (TILE - 1), int(row) & (TILE - 1)
    c1, r1 = (c0 + 1) & (TILE - 1), (r0 + 1) & (TILE - 1)
    upper = tile[r0, c0] * (1 - du) + tile[r0, c1] * du
    lower = tile[r1, c0] * (1 - du) + tile[r1, c1] * du
    out[0] = upper * (1 - dv) + lower * dv


@guvectorize(["(f4[:,:,:],f4,f4,f4[:])", "(f4[:,:,:],f8,f8,f4[:])"],
             "(h,w,c),(),()->(c)", nopython=True, cache=True)
def look_up(picture, row, column, out):
    """Bilinear look-up in a picture, held at its edges; rows above the top are mirrored."""
    height, width, planes = picture.shape
    y = min(max(abs(row), 0), height - 1.001)
    x = min(max(column, 0), width - 1.001)
    r, c = int(y), int(x)
    dy, dx = y - r, x - c
    for plane in range(planes):
        upper = picture[r, c, plane] * (1 - dx) + picture[r, c + 1, plane] * dx
        lower = picture[r + 1, c, plane] * (1 - dx) + picture[r + 1, c + 1, plane] * dx
        out[plane] = upper * (1 - dy) + lower * dy


def smoothstep(low, high, x):
    """0 below `low`, 1 above `high`, a cubic between; `low` may exceed `high` to fall."""
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


def mix(a, b, weight):
    """Blend `a` to `b`; `weight` of shape (...) against colours of shape (..., 3)."""
    weight = np.asarray(weight, np.float32)[..., None]
    return a * (1 - weight) + b * weight


def lay(canvas, window, radiance, inside):
    """Paint `radiance` over a window of the canvas where `inside` is true."""
    canvas[window] = np.where(inside[..., None], radiance, canvas[window])


def segment(x, y, start, end):
    """Distance of points from a line segment, signed by side, and position along it, 0 to 1."""
    (x0, y0), (x1, y1) = start, end
    dx, dy = x1 - x0, y1 - y0
    along = np.clip(((x - x0) * dx + (y - y0) * dy) / (dx * dx + dy * dy), 0, 1)
    distance = np.hypot(x - x0 - along * dx, y - y0 - along * dy)
    side = np.sign((x - x0) * dy - (y - y0) * dx)
    return distance * side, along
