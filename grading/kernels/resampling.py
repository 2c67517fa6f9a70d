"""Resampling with a Lanczos window of three lobes (Duchon, J. Appl. Meteorol. 18:1016, 1979)."""

from functools import lru_cache

import numpy as np

from grading.kernels.primitives import compiled, f32

LOBES = 3


@lru_cache(maxsize=8)
def taps(source, target):
    """For each target pixel, where its source pixels begin and what each weighs.

    The window is widened when shrinking, and the weights sum to one also at the borders, where
    what lies outside is left out.

    Parameters
    ----------
    source, target : int
        Sizes in pixels.

    Returns
    -------
    start : ndarray, shape (target,), int64
    weights : ndarray, shape (target, n), float32
    """
    scale = source / target
    support = LOBES * max(scale, 1)
    centre = (np.arange(target) + 0.5) * scale - 0.5
    count = min(int(np.ceil(2 * support)) + 1, source)
    start = np.clip(np.ceil(centre - support).astype(np.int64), 0, source - count)
    distance = (start[:, None] + np.arange(count) - centre[:, None]) / max(scale, 1)
    weights = np.sinc(distance) * np.sinc(distance / LOBES) * (np.abs(distance) < LOBES)
    return start, (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)


def resample(codes, size, y0, y1, decode):
    """Rows y0:y1 of a picture at another size, resampled in linear light.

    Parameters
    ----------
    codes : ndarray, shape (rows, columns, 3), uint16
    size : (int, int)
        Width and height of the whole result.
    y0, y1 : int
    decode : ndarray, shape (65536,), float32
        Linear light of each code.

    Returns
    -------
    ndarray, shape (3, y1 - y0, width), float32
    """
    width, height = size
    left, across = taps(codes.shape[1], width)
    top, down = taps(codes.shape[0], height)
    first, last = top[y0], top[y1 - 1] + down.shape[1]
    rows = np.empty((3, last - first, width), np.float32)
    _across(codes[first:last], decode, left, across, rows)
    out = np.empty((3, y1 - y0, width), np.float32)
    _down(rows, top[y0:y1] - first, down[y0:y1], out)
    return out


@compiled
def _across(codes, decode, left, weights, out):
    light = np.empty((3, codes.shape[1]), np.float32)
    for y in range(codes.shape[0]):
        for x in range(codes.shape[1]):
            for c in range(3):
                light[c, x] = decode[codes[y, x, c]]
        for c in range(3):
            for x in range(left.size):
                total = f32(0)
                for k in range(weights.shape[1]):
                    total += weights[x, k] * light[c, left[x] + k]
                out[c, y, x] = total


@compiled
def _down(rows, top, weights, out):
    for c in range(3):
        for y in range(out.shape[1]):
            line = out[c, y]
            line[:] = f32(0)
            for k in range(weights.shape[1]):
                weight = weights[y, k]
                source = rows[c, top[y] + k]
                for x in range(line.size):
                    line[x] += weight * source[x]
