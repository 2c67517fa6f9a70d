"""Factors, offsets and matrices on linear light, and the blend of a local adjustment."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.kernels.primitives import aligned, between, channels, compiled, entries, fma, transform

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def scale(rgb: np.ndarray, gain: float) -> np.ndarray:
    """Every channel times a factor.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    gain : float32

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    return np.multiply(rgb, np.float32(gain), out=aligned(rgb.shape))


def affine(rgb: np.ndarray, gain: float, offset: float) -> np.ndarray:
    """Every channel times a factor, plus an offset; shapes as in `scale`."""
    return _affine(rgb, np.float32(gain), np.float32(offset))


@compiled
def _affine(rgb, gain, offset):
    out = aligned(rgb.shape)
    x, y = rgb.ravel(), out.ravel()
    for i in range(x.size):
        y[i] = fma(x[i], gain, offset)
    return out


def mix(rgb: np.ndarray, matrix: ArrayLike) -> np.ndarray:
    """The three channels of each pixel times a (3, 3) matrix; shapes as in `scale`."""
    return _mix(rgb, np.asarray(matrix, np.float32))


@compiled
def _mix(rgb, matrix):
    out = aligned(rgb.shape)
    r, g, b = channels(rgb)
    p, q, s = channels(out)
    matrix = entries(matrix)
    for i in range(r.size):
        u, v, w = transform(matrix, r[i], g[i], b[i])
        p[i] = u
        q[i] = v
        s[i] = w
    return out


@compiled
def blend(before: np.ndarray, after: np.ndarray, weight: np.ndarray) -> None:
    """Make `after` into before + weight * (after - before): a local adjustment through its mask.

    Parameters
    ----------
    before, after : ndarray, shape (3, rows, columns), float32
        `after`, C-contiguous and no part of `before`, is changed in place, so that the tile's
        planes stay few enough for the cache.
    weight : ndarray, shape (rows, columns), float32 in 0..1
    """
    w = weight.ravel()
    for c in range(3):
        x, y = before[c].ravel(), after[c].ravel()
        for i in range(x.size):
            y[i] = between(x[i], y[i], w[i])
