"""Bayer originals: the mosaic stays as it was unpacked, and is developed where it is read."""

from dataclasses import dataclass

import numpy as np

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.mosaic import Sensor, bin_tile
from grading.kernels.raw.rebuild import rebuild_highlights
from grading.pixels import block_means, stored_region, upright
from grading.region import Region


@dataclass(frozen=True)
class MosaicPixels:
    """Camera RGB developed from a Bayer mosaic part by part; see `grading.frame.Pixels`.

    Attributes
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        Counts as the file stores them, C-contiguous.
    sensor : Sensor
    balance : ndarray, shape (3,), float32
        As-shot gains, green 1.
    highlights : ndarray or None
        From `grading.kernels.raw.highlights.highlight_guide`.
    orientation : int
        EXIF orientation, 1 to 8.
    """

    mosaic: np.ndarray
    sensor: Sensor
    balance: np.ndarray
    highlights: np.ndarray | None
    orientation: int

    @property
    def height(self):
        """Rows of the upright picture."""
        return self.mosaic.shape[self.orientation >= 5]

    @property
    def width(self):
        """Columns of the upright picture."""
        return self.mosaic.shape[self.orientation < 5]

    def read(self, region):
        """Camera RGB of a region: float32, shape (3, rows, columns), C-contiguous."""
        stored = stored_region(self.orientation, self.height, self.width, region)
        planes = demosaic_tile(
            self.mosaic, *stored, self.sensor, self.balance, self.highlights
        )
        return self._upright(planes)

    def reduced(self, factor):
        """Means of factor x factor blocks; those at the far edges are filled by mirroring.

        Parameters
        ----------
        factor : int
            1 or more; even ones average the mosaic's own sites.

        Returns
        -------
        ndarray, shape (3, ceil(height / factor), ceil(width / factor)), float32
        """
        if factor % 2:
            return block_means(self.read(Region.whole(self.height, self.width)), factor)
        mosaic, sensor = _filled(self.mosaic, self.sensor, factor, self.orientation)
        rows, columns = (size // factor for size in mosaic.shape)
        planes = bin_tile(mosaic, 0, rows, 0, columns, sensor, factor)
        if self.highlights is not None:
            rebuild_highlights(planes, 0, 0, self.highlights, sensor, self.balance, factor)
        return self._upright(planes)

    def _upright(self, planes):
        turned = upright(planes.transpose(1, 2, 0), self.orientation)
        return np.ascontiguousarray(turned.transpose(2, 0, 1))


def _filled(mosaic, sensor, factor, orientation):
    """Mosaic and sensor grown to whole blocks, at the edges that are the far ones upright."""
    corner = stored_region(orientation, 1, 1, Region(0, 0, 0, 0))
    growth = [
        (-size % factor, 0) if corner[2 * axis] else (0, -size % factor)
        for axis, size in enumerate(mosaic.shape)
    ]
    if not any(map(any, growth)):
        return mosaic, sensor
    phase = tuple(
        (start + before) % 2 for start, (before, _) in zip(sensor.phase, growth, strict=True)
    )
    levels = [
        np.pad(black, grown, mode="reflect")
        for black, grown in zip((sensor.row_black, sensor.column_black), growth, strict=True)
    ]
    grown = sensor._replace(phase=phase, row_black=levels[0], column_black=levels[1])
    return np.pad(mosaic, growth, mode="reflect"), grown
