"""Straight lines on linear light, and the blend of a local adjustment."""

import numpy as np

from grading.kernels.primitives import compiled


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
    return rgb * np.float32(gain)


def line(rgb, gain, offset):
    """Every channel times a factor, plus an offset; shapes as in `scale`."""
    out = np.empty_like(rgb)
    _line(rgb.ravel(), out.ravel(), np.float32(gain), np.float32(offset))
    return out


@compiled
def _line(x, out, gain, offset):
    for i in range(x.size):
        out[i] = x[i] * gain + offset


def mix(rgb, matrix):
    """The three channels of each pixel times a (3, 3) matrix; shapes as in `scale`."""
    out = np.empty_like(rgb)
    _mix(rgb.reshape(3, -1), out.reshape(3, -1), np.asarray(matrix, np.float32))
    return out


@compiled
def _mix(x, out, m):
    m00, m01, m02 = m[0, 0], m[0, 1], m[0, 2]
    m10, m11, m12 = m[1, 0], m[1, 1], m[1, 2]
    m20, m21, m22 = m[2, 0], m[2, 1], m[2, 2]
    r, g, b = x[0], x[1], x[2]
    p, q, s = out[0], out[1], out[2]
    for i in range(r.size):
        u, v, w = r[i], g[i], b[i]
        p[i] = m00 * u + m01 * v + m02 * w
        q[i] = m10 * u + m11 * v + m12 * w
        s[i] = m20 * u + m21 * v + m22 * w


def blend(before, after, weight):
    """before + weight * (after - before): a local adjustment through its mask.

    Parameters
    ----------
    before, after : ndarray, shape (3, rows, columns), float32
    weight : ndarray, shape (rows, columns), float32 in 0..1

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    out = np.empty_like(before)
    _blend(before.reshape(3, -1), after.reshape(3, -1), weight.ravel(), out.reshape(3, -1))
    return out


@compiled
def _blend(before, after, weight, out):
    for c in range(3):
        x, y, z = before[c], after[c], out[c]
        for i in range(x.size):
            z[i] = x[i] + weight[i] * (y[i] - x[i])
