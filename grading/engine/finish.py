"""From a picture in Oklab to the codes of an output: gamut, size, transfer curve, dither.

Codes are made once. A picture of another size is resampled in the destination's linear light, in
floating point: first along the rows, band by band while the frame is graded, then down the
columns.
"""

import numpy as np

from grading import kernels
from grading.colour import transfer
from grading.colour.gamut import gamut
from grading.engine.output import Output
from grading.engine.threads import run_all
from grading.region import Region

STRIP = 64
"""Rows of a resized output that are resampled down the columns at a time."""


class Finish:
    """The codes of one picture for one output, assembled region by region.

    Parameters
    ----------
    output : grading.engine.output.Output
    frame : Region
        The whole of the graded frame.

    Attributes
    ----------
    codes : ndarray, shape (height, width, 3), uint8 or uint16
    is_resized : bool
    """

    def __init__(self, output: Output, frame: Region) -> None:
        rows, columns = frame.shape
        width, height = output.size(columns, rows)
        self._dither = output.bits == 8
        self.codes = _empty(height, width, output.bits)
        self.is_resized = (width, height) != (columns, rows)
        self._gamut, self._curve = gamut(output.space), transfer.coefficients(output.curve)
        if self.is_resized:
            self._rows = np.empty((3, rows, width), np.float32)
            self._across = kernels.resampling.taps(columns, width)
            self._down = kernels.resampling.taps(rows, height)

    def add(self, lab: np.ndarray, region: Region) -> tuple[np.ndarray, int]:
        """Take in a region of the picture.

        Parameters
        ----------
        lab : ndarray, shape (3, rows, columns), float32
        region : Region
            Whole rows where the output is resized.

        Returns
        -------
        ends : ndarray, shape (2, 3), int64
            How many of the new codes are the lowest, and the highest, in each channel.
        outside : int
            How many pixels lay outside of the destination's gamut.
        """
        if not self.is_resized:
            return kernels.output.to_codes(
                lab, self._gamut, self._curve, self.codes, region.top, region.left, self._dither
            )
        light, outside = kernels.gamut.bring_into_gamut(lab, self._gamut)
        rows = self._rows[:, region.top : region.bottom]
        kernels.resampling.resample_rows(light, *self._across, rows)
        return np.zeros((2, 3), np.int64), outside

    def complete(self, workers: int) -> np.ndarray:
        """Make the codes that need the whole picture; count the lowest and the highest."""
        if not self.is_resized:
            return np.zeros((2, 3), np.int64)
        return sum(run_all(self._strip, range(0, len(self.codes), STRIP), workers))

    def _strip(self, top):
        bottom = min(top + STRIP, len(self.codes))
        light = kernels.resampling.resample_columns(self._rows, *self._down, top, bottom)
        return kernels.output.encode(light, self._curve, self.codes, top, 0, self._dither)


def _empty(height, width, bits):
    return np.empty((height, width, 3), np.uint8 if bits == 8 else np.uint16)
