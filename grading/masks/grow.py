"""Masks grown and shrunk: made once, on the reduced frame."""

import numpy as np

from grading import kernels
from grading.masks.shape import Ground, Mask
from grading.region import Region


def grown(mask: Mask, by: float, ground: Ground) -> Mask:
    """A mask whose weights are the greatest within a distance; the least where it is shrunk.

    Parameters
    ----------
    mask : Mask
        On the reduced frame.
    by : float
        Distance as a fraction of the long edge; below 0 the mask is shrunk.
    ground : Ground
        The frame.

    Returns
    -------
    Mask
        On the frame itself.
    """
    small = ground.reduced
    weights = mask(Region.whole(small.height, small.width), small.light)
    radius = abs(by) * small.long_edge
    weights = greatest(weights, radius) if by > 0 else 1 - greatest(1 - weights, radius)
    plane = softened(softened(weights))[None]
    return lambda region, light: kernels.base.interpolate(plane, ground.factor, *region)[0]


def greatest(plane: np.ndarray, radius: float) -> np.ndarray:
    """The greatest value within a disc about each pixel, cut off at the borders.

    >>> greatest(np.float32([[0, 0, 0, 1]]), 2.0).tolist()
    [[0.0, 1.0, 1.0, 1.0]]
    """
    found = plane.copy()
    for down in range(int(radius) + 1):
        across = _greatest_across(plane, int(np.sqrt(radius**2 - down**2)))
        rest = max(len(plane) - down, 0)
        np.maximum(found[:rest], across[down:], out=found[:rest])
        np.maximum(found[down:], across[:rest], out=found[down:])
    return found


def _greatest_across(plane, reach):
    """The greatest within so many columns; by runs, each twice as long as the one before."""
    columns = plane.shape[1]
    wide = np.pad(plane, ((0, 0), (reach, reach)))
    run, length = 1, 2 * reach + 1
    while 2 * run <= length:
        wide = np.maximum(wide[:, :-run], wide[:, run:])
        run *= 2
    return np.maximum(wide[:, :columns], wide[:, length - run : length - run + columns])


def softened(plane: np.ndarray) -> np.ndarray:
    """Means of 3 x 3 pixels, the nearer ones twice, so that no stair shows where it is enlarged."""
    rows, columns = plane.shape
    wide = np.pad(plane, 1, mode="edge")
    across = wide[:, :columns] + 2 * wide[:, 1 : columns + 1] + wide[:, 2:]
    return (across[:rows] + 2 * across[1 : rows + 1] + across[2:]) / np.float32(16)
