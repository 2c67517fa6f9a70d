"""Planes of evenly spaced nodes from edge to edge of a frame, interpolated to a tile."""

from functools import lru_cache

import numpy as np

from grading.kernels.base import between_blocks
from grading.region import Region


def at_nodes(planes: np.ndarray, region: Region, height: int, width: int) -> np.ndarray:
    """Planes whose first and last nodes are on the edges of a frame, linearly interpolated.

    Parameters
    ----------
    planes : ndarray, shape (n, rows, columns), float32
        Of at least two rows and columns.
    region : Region
        The tile.
    height, width : int
        Of the frame.

    Returns
    -------
    ndarray, shape (n, *region.shape), float32
    """
    rows = _nodes_around(region.top, region.bottom, height, planes.shape[1])
    columns = _nodes_around(region.left, region.right, width, planes.shape[2])
    return between_blocks(planes, rows, columns)


@lru_cache(maxsize=1024)
def _nodes_around(start, stop, size, nodes):
    """Indices of the nodes before and after each pixel, and the share of the latter."""
    place = (np.arange(start, stop) + 0.5) / size * (nodes - 1)
    before = np.minimum(place.astype(np.int64), nodes - 2)
    return before, before + 1, (place - before).astype(np.float32)
