"""Decoded pixels that are turned into linear light only where they are read."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from grading.region import Region

_REDUCED_SIDE = 256


def upright(stored, orientation):
    """View a stored picture the right way up.

    Parameters
    ----------
    stored : ndarray, shape (H, W, ...)
        Picture as the file stores it.
    orientation : int
        EXIF orientation, 1 to 8 (Exif 2.32, 4.6.4, tag 274).

    Returns
    -------
    ndarray
        A view, never a copy; rows and columns are exchanged for orientations 5 to 8.
    """
    if orientation >= 5:
        stored = stored.swapaxes(0, 1)
    rows = -1 if orientation in (3, 4, 7, 8) else 1
    columns = -1 if orientation in (2, 3, 6, 7) else 1
    return stored[::rows, ::columns]


def as_stored(picture, orientation):
    """View an upright picture as the file stores it: what `upright` undoes; shapes as there."""
    rows = -1 if orientation in (3, 4, 7, 8) else 1
    columns = -1 if orientation in (2, 3, 6, 7) else 1
    picture = picture[::rows, ::columns]
    return picture.swapaxes(0, 1) if orientation >= 5 else picture


def upright_place(orientation, x, y):
    """Fractions of the upright picture at fractions of the stored one, across and down.

    >>> upright_place(6, 0.25, 0.0)
    (1.0, 0.25)
    """
    if orientation >= 5:
        x, y = y, x
    x = 1 - x if orientation in (2, 3, 6, 7) else x
    return float(x), float(1 - y if orientation in (3, 4, 7, 8) else y)


def stored_region(orientation, height, width, region):
    """The region of a stored picture that holds one of the upright picture.

    Parameters
    ----------
    orientation : int
        EXIF orientation, 1 to 8.
    height, width : int
        Of the upright picture.
    region : Region

    Returns
    -------
    Region
    """
    y0, y1, x0, x1 = region
    if orientation in (3, 4, 7, 8):
        y0, y1 = height - y1, height - y0
    if orientation in (2, 3, 6, 7):
        x0, x1 = width - x1, width - x0
    return Region(x0, x1, y0, y1) if orientation >= 5 else Region(y0, y1, x0, x1)


@dataclass(frozen=True)
class StoredPixels:
    """An upright interleaved picture with the function that makes linear light of it.

    Attributes
    ----------
    stored : ndarray, shape (height, width, 3), uint8 or uint16
        Code values; any view will do.
    to_light : callable
        Takes planar code values, shape (3, h, w), C-contiguous, and returns float32 linear
        light of the same shape. Works pixel by pixel.
    """

    stored: np.ndarray
    to_light: Callable[[np.ndarray], np.ndarray]

    @property
    def height(self):
        """Rows of the upright picture."""
        return self.stored.shape[0]

    @property
    def width(self):
        """Columns of the upright picture."""
        return self.stored.shape[1]

    def read(self, region):
        """Linear light of a region: float32, shape (3, rows, columns), C-contiguous."""
        y0, y1, x0, x1 = region
        codes = self.stored[y0:y1, x0:x1].transpose(2, 0, 1)
        return self.to_light(np.ascontiguousarray(codes))

    def reduced(self, factor):
        """Means of factor x factor blocks; those at the far edges are of what there is.

        Parameters
        ----------
        factor : int
            1 or more.

        Returns
        -------
        ndarray, shape (3, ceil(height / factor), ceil(width / factor)), float32
        """
        side = max(1, _REDUCED_SIDE // factor) * factor
        reduced = np.empty((3, -(-self.height // factor), -(-self.width // factor)), np.float32)
        for tile in Region.whole(self.height, self.width).tiles(side, side):
            means = block_means(self.read(tile), factor)
            top, left = tile.top // factor, tile.left // factor
            reduced[:, top : top + means.shape[1], left : left + means.shape[2]] = means
        return reduced


def block_means(planes, factor):
    """Means of factor x factor blocks of planes (n, h, w); at the far edges of what is there."""
    _, height, width = planes.shape
    tops, lefts = np.arange(0, height, factor), np.arange(0, width, factor)
    sums = np.add.reduceat(np.add.reduceat(planes, tops, axis=1), lefts, axis=2)
    rows = np.diff(np.append(tops, height))[:, None]
    columns = np.diff(np.append(lefts, width))
    return sums / (rows * columns).astype(np.float32)
