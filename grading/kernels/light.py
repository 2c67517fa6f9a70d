"""Straight lines on linear light, and the blend of a local adjustment."""

import numpy as np

from grading.kernels.primitives import aligned, between, compiled, entries, fma, transform


def scale(rgb, gain):
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


def line(rgb, gain, offset):
    """Every channel times a factor, plus an offset; shapes as in `scale`."""
    out = aligned(rgb.shape)
    _line(rgb.ravel(), out.ravel(), np.float32(gain), np.float32(offset))
    return out


@compiled
def _line(x, out, gain, offset):
    for i in range(x.size):
        out[i] = fma(x[i], gain, offset)


def mix(rgb, matrix):
    """The three channels of each pixel times a (3, 3) matrix; shapes as in `scale`."""
    out = aligned(rgb.shape)
    _mix(rgb.reshape(3, -1), out.reshape(3, -1), np.asarray(matrix, np.float32))
    return out


@compiled
def _mix(x, out, m):
    r, g, b = x[0], x[1], x[2]
    p, q, s = out[0], out[1], out[2]
    matrix = entries(m)
    for i in range(r.size):
        u, v, w = transform(matrix, r[i], g[i], b[i])
        p[i] = u
        q[i] = v
        s[i] = w


def blend(before, after, weight):
    """Make `after` into before + weight * (after - before): a local adjustment through its mask.

    Parameters
    ----------
    before, after : ndarray, shape (3, rows, columns), float32
        `after` is changed in place, so that the tile's planes stay few enough for the cache.
    weight : ndarray, shape (rows, columns), float32 in 0..1
    """
    _blend(before.reshape(3, -1), after.reshape(3, -1), weight.ravel())


@compiled
def _blend(before, after, weight):
    for c in range(3):
        x, y = before[c], after[c]
        for i in range(x.size):
            y[i] = between(x[i], y[i], weight[i])
