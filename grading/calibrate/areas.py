"""Even areas of a picture that have the shape of a patch seen from some side."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

_PASSES = 8
_LEAST, _MOST = 12, 1 / 24
"""Pixels of an area, and its share of the picture."""

_FILLED = 0.82
_SLENDER = 8.0
"""Ratio of the variances along and across an area, at most."""


class Areas(NamedTuple):
    """Areas, largest first.

    Attributes
    ----------
    centres : ndarray, shape (n, 2)
        x and y in pixels; the middle of the first pixel is (0.5, 0.5).
    sizes : ndarray, shape (n,)
        Pixels.
    """

    centres: np.ndarray
    sizes: np.ndarray


def even_areas(picture: np.ndarray, tolerance: float, most: int) -> Areas:
    """Connected places of even colour that fill a parallelogram.

    Parameters
    ----------
    picture : ndarray, shape (n, rows, columns)
    tolerance : float
        A pixel is even if no plane changes by more among its neighbours.
    most : int
        Areas, the largest of them all.

    Notes
    -----
    The shape is told by moments: a parallelogram holds 12 times the root of the determinant of
    its covariance, whatever its angles and sides.
    """
    labels = _labels(_range(picture) < tolerance)
    rows, columns = np.nonzero(labels >= 0)
    _, label, size = np.unique(labels[rows, columns], return_inverse=True, return_counts=True)

    def means(values):
        return np.bincount(label, values, len(size)) / size

    x, y = means(columns), means(rows)
    xx, yy = means(columns.astype(float) ** 2) - x * x, means(rows.astype(float) ** 2) - y * y
    xx, yy, xy = xx + 1 / 12, yy + 1 / 12, means(columns * rows.astype(float)) - x * y
    determinant, half = xx * yy - xy * xy, (xx + yy) / 2
    spread = np.sqrt(np.maximum(half**2 - determinant, 0))
    good = (size >= _LEAST) & (size <= _MOST * labels.size)
    good &= size > _FILLED * 12 * np.sqrt(np.maximum(determinant, 0))
    good &= half + spread < _SLENDER * (half - spread)
    kept = np.flatnonzero(good)
    kept = kept[np.argsort(-size[kept], kind="stable")][:most]
    return Areas(np.stack([x[kept], y[kept]], axis=1) + 0.5, size[kept])


def _range(picture):
    """Largest difference in a plane within 3 x 3 pixels, shape (rows, columns)."""
    high, low = picture, picture
    for axis in (1, 2):
        high = _over_three(high, axis, np.maximum)
        low = _over_three(low, axis, np.minimum)
    return (high - low).max(axis=0)


def _over_three(planes, axis, choose):
    pad = [(0, 0)] * 3
    pad[axis] = (1, 1)
    padded = np.pad(planes, pad, mode="edge")
    count = planes.shape[axis]
    parts = [np.take(padded, range(i, i + count), axis=axis) for i in range(3)]
    return choose(choose(parts[0], parts[1]), parts[2])


def _labels(mask):
    """A number for each connected area, -1 elsewhere; a winding one may get several.

    Each pixel takes the least number of its run in a row, then in a column, and so on; the
    convex areas that are looked for are done in three passes.
    """
    labels = np.where(mask, np.arange(mask.size).reshape(mask.shape), -1)
    for _ in range(_PASSES):
        before = labels
        labels = _least_of_runs(labels, mask)
        labels = _least_of_runs(labels.T, mask.T).T
        if np.array_equal(before, labels):
            break
    return labels


def _least_of_runs(labels, mask):
    flat, inside = labels.ravel(), mask.ravel()
    begins = np.ones(flat.size, bool)
    begins[1:] = inside[1:] != inside[:-1]
    begins[:: labels.shape[1]] = True
    starts = np.flatnonzero(begins)
    least = np.minimum.reduceat(flat, starts)
    lengths = np.diff(np.append(starts, flat.size))
    return np.repeat(least, lengths).reshape(labels.shape)
