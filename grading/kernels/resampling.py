"""Resampling with a Lanczos window of three lobes (Duchon, J. Appl. Meteorol. 18:1016, 1979)."""

from functools import lru_cache

import numpy as np

from grading.kernels.primitives import compiled, f32

LOBES = 3


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
    weights = np.sinc(distance) * np.sinc(distance / LOBES) * (np.abs(distance) < LOBES)
    return start, (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)


def resample_rows(
    light: np.ndarray, start: np.ndarray, weights: np.ndarray, out: np.ndarray
) -> None:
    """Planes with each row at another length.

    Parameters
    ----------
    light : ndarray, shape (3, rows, columns), float32
    start, weights
        From `taps`.
    out : ndarray, shape (3, rows, target), float32
        Is written to.
    """
    _across(light, start, weights, out)


def resample_columns(
    light: np.ndarray, start: np.ndarray, weights: np.ndarray, top: int, bottom: int
) -> np.ndarray:
    """Rows top:bottom of planes with each column at another length; taps as in `resample_rows`.

    Returns
    -------
    ndarray, shape (3, bottom - top, columns), float32
    """
    out = np.empty((3, bottom - top, light.shape[2]), np.float32)
    _down(light, start[top:bottom], weights[top:bottom], out)
    return out


@compiled
def _across(light, start, weights, out):
    for c in range(3):
        for y in range(light.shape[1]):
            source, line = light[c, y], out[c, y]
            for x in range(start.size):
                total = f32(0)
                for k in range(weights.shape[1]):
                    total += weights[x, k] * source[start[x] + k]
                line[x] = total


@compiled
def _down(light, start, weights, out):
    for c in range(3):
        for y in range(out.shape[1]):
            line = out[c, y]
            line[:] = f32(0)
            for k in range(weights.shape[1]):
                weight = weights[y, k]
                source = light[c, start[y] + k]
                for x in range(line.size):
                    line[x] += weight * source[x]
