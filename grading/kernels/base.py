"""Luminance, and guides of reduced size brought to the pixels of a tile."""

from functools import lru_cache

import numpy as np

from grading.kernels.primitives import aligned, between, compiled

LUMINANCE = (np.float32(0.2627), np.float32(0.6780), np.float32(0.0593))
"""Weights of linear BT.2020 R, G, B (Recommendation ITU-R BT.2020-2, table 4)."""


def interpolate(planes: np.ndarray, factor: int, y0: int, y1: int, x0: int, x1: int) -> np.ndarray:
    """Planes at reduced size, interpolated linearly to the pixels of a tile.

    Parameters
    ----------
    planes : ndarray, shape (n, rows, columns), float32
        Each value belongs to the middle of a block of factor x factor pixels.
    factor : int
        A power of two.
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.

    Returns
    -------
    ndarray, shape (n, y1 - y0, x1 - x0), float32
    """
    rows = blocks_around(y0, y1, factor, planes.shape[1])
    columns = blocks_around(x0, x1, factor, planes.shape[2])
    return _interpolate(planes, rows, columns)


@lru_cache(maxsize=1024)
def blocks_around(start, stop, factor, size):
    """Indices of the blocks of `factor` pixels about each pixel, and the share of the latter."""
    place = np.maximum((np.arange(start, stop) + 0.5) / factor - 0.5, 0)
    before = place.astype(np.int64)
    after = np.minimum(before + 1, size - 1)
    return before, after, (place - before).astype(np.float32)


@compiled
def _interpolate(planes, rows, columns):
    above, below, down = rows
    left, right, over = columns
    out = aligned((planes.shape[0], down.size, over.size))
    first = above[0]
    across = aligned((below[-1] - first + 1, over.size))
    for n in range(out.shape[0]):
        for y in range(across.shape[0]):
            source, line = planes[n, first + y], across[y]
            for x in range(line.size):
                line[x] = between(source[left[x]], source[right[x]], over[x])
        for y in range(out.shape[1]):
            low, high = across[above[y] - first], across[below[y] - first]
            share, line = down[y], out[n, y]
            for x in range(line.size):
                line[x] = between(low[x], high[x], share)
    return out
