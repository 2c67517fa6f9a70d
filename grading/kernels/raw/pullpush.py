"""Scattered values spread to where there are none: the pull-push pyramid.

After Gortler, Grzeszczuk, Szeliski and Cohen, "The lumigraph", SIGGRAPH 1996.  Pull: weighted means
of coarser and coarser cells.  Push: a cell of little weight takes the coarser value instead.
"""

import numpy as np

from grading.kernels.primitives import compiled

TRUST = np.float32(0.02)
"""The weight at which a cell's own value and the coarser one count alike."""
LEAST = np.float32(1e-20)


def pull_push(planes):
    """Fill in what cells of small weight have from those around them, in place.

    Parameters
    ----------
    planes : ndarray, shape (n + 1, rows, columns), float32, C-contiguous
        Values times their weight, and last the weight, 0 or more.

    Returns
    -------
    ndarray, shape (n, rows, columns), float32
        The first planes: values everywhere, 0 where there is no weight in the whole frame.
    """
    values, weight = planes[:-1], planes[-1]
    rows, columns = weight.shape
    if min(rows, columns) < 2:
        values[:] = values.sum((1, 2), keepdims=True) / max(weight.sum(), LEAST)
        return values
    coarse = np.empty((len(planes), -(-rows // 2), -(-columns // 2)), np.float32)
    _halve(planes, coarse)
    _fill(values, weight, pull_push(coarse))
    return values


@compiled
def _halve(planes, coarse):
    """Means of 2x2 cells; an odd edge repeats its last cell."""
    rows, columns = planes.shape[1:]
    tall = np.empty(columns + 1, np.float32)
    for k in range(planes.shape[0]):
        for i in range(coarse.shape[1]):
            above, below = planes[k, 2 * i], planes[k, min(2 * i + 1, rows - 1)]
            for x in range(columns):
                tall[x] = above[x] + below[x]
            tall[columns] = tall[columns - 1]
            target = coarse[k, i]
            for x in range(target.size):
                target[x] = (tall[2 * x] + tall[2 * x + 1]) * np.float32(0.25)


@compiled
def _fill(values, weight, coarse):
    """Blend weighted values with coarser ones, bilinear from cell centre to cell centre."""
    rows, columns = weight.shape
    size = coarse.shape[2]
    near, far = np.float32(0.75), np.float32(0.25)
    tall, wide = np.empty(size + 2, np.float32), np.empty(2 * size, np.float32)
    for k in range(coarse.shape[0]):
        for i in range(rows):
            beside = min(max(i // 2 + 2 * (i & 1) - 1, 0), coarse.shape[1] - 1)
            first, second = coarse[k, i // 2], coarse[k, beside]
            for x in range(size):
                tall[x + 1] = near * first[x] + far * second[x]
            tall[0], tall[-1] = tall[1], tall[-2]
            for x in range(size):
                wide[2 * x] = far * tall[x] + near * tall[x + 1]
                wide[2 * x + 1] = near * tall[x + 1] + far * tall[x + 2]
            own, target = weight[i], values[k, i]
            for x in range(columns):
                target[x] = (target[x] + TRUST * wide[x]) / (own[x] + TRUST)
