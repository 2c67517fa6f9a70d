"""Resampling with Lanczos's window of three lobes: rows and columns at another length."""

from functools import lru_cache

import numpy as np

from grading.kernels.lanes import LANES, alike, load, store
from grading.kernels.primitives import aligned, compiled, f32, inner, u64
from grading.kernels.window import LOBES, lanczos


@lru_cache(maxsize=8)
def taps(source: int, target: int) -> tuple[np.ndarray, np.ndarray]:
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

    Examples
    --------
    >>> start, weights = taps(8, 4)
    >>> start.tolist(), weights.sum(axis=1).round(6).tolist()
    ([0, 0, 0, 0], [1.0, 1.0, 1.0, 1.0])
    """
    scale = source / target
    support = LOBES * max(scale, 1)
    centre = (np.arange(target) + 0.5) * scale - 0.5
    count = min(int(np.ceil(2 * support)) + 1, source)
    start = np.clip(np.ceil(centre - support).astype(np.int64), 0, source - count)
    distance = (start[:, None] + np.arange(count) - centre[:, None]) / max(scale, 1)
    weights = lanczos(distance)
    return start, (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)


def resample_columns(
    light: np.ndarray, start: np.ndarray, weights: np.ndarray, out: np.ndarray
) -> None:
    """Planes with columns at another length.

    Parameters
    ----------
    light : ndarray, shape (3, room, width), float32
        Row y lies in row ``y % room``; what is needed is there.
    start, weights
        From `taps`, of the rows that are made.
    out : ndarray, shape (3, rows, columns), float32
        Is written to. No wider than the light.
    """
    _down(light, start, weights, out)


def resample_rows(
    light: np.ndarray, start: np.ndarray, weights: np.ndarray, out: np.ndarray
) -> None:
    """Planes with rows at another length.

    Parameters
    ----------
    light : ndarray, shape (3, rows, columns), float32
    start, weights
        From `taps`.
    out : ndarray, shape (3, rows, target), float32
        Is written to.
    """
    _across(light, start, weights, out)


@compiled
def _down(light, start, weights, out):
    room = light.shape[1]
    for c in range(3):
        for y in range(out.shape[1]):
            line = out[c, y]
            line[:] = f32(0)
            for k in range(weights.shape[1]):
                weight, source = weights[y, k], light[c, (start[y] + k) % room]
                for x in range(line.size):
                    line[x] += weight * source[x]


@compiled
def _across(light, start, weights, out):
    """With as many rows side by side as there are lanes."""
    taken, made = aligned((light.shape[2], LANES)), aligned((start.size, LANES))
    rows = light.shape[1]
    for c in range(3):
        for top in range(0, rows, LANES):
            for k in range(LANES):
                _put(light[c, min(top + k, rows - 1)], taken, k)
            _sum_rows(taken.ravel(), start, weights, made.ravel())
            for k in range(min(LANES, rows - top)):
                _take(made, k, out[c, top + k])


@inner
def _put(line, columns, k):
    for x in range(line.size):
        columns[x, k] = line[x]


@inner
def _take(columns, k, line):
    for x in range(line.size):
        line[x] = columns[x, k]


@inner
def _sum_rows(source, start, weights, out):
    for x in range(start.size):
        total, at = alike(f32(0)), u64(LANES * start[x])
        for k in range(weights.shape[1]):
            total = total + alike(weights[x, k]) * load(source, at + u64(LANES * k))
        store(out, u64(LANES * x), total)
