"""From a picture in Oklab to the codes of an output: gamut, size, transfer curve, dither.

Codes are made once. A picture of another size is resampled in the destination's linear light, in
floating point: first along the rows, band by band while the frame is graded, then down the
columns. There it is sharpened, too, strip by strip.
"""

import numpy as np

from grading import kernels
from grading.colour import spaces, transfer
from grading.colour.gamut import gamut
from grading.engine.output import Output
from grading.engine.threads import run_all
from grading.region import Region

STRIP = 64
"""Rows of a resized output that are resampled down the columns at a time."""

SOFTNESS = 0.5
"""Standard deviation, in pixels of the output, of the blur that sharpening takes back: about what
the resampling leaves; ours."""

GRAIN = (4e-8, 0.0, 1e-4)
"""Variance of luminance that is not sharpened: without light, for each unit of light, and for its
square (1 % of it); ours."""


class Finish:
    """The codes of one picture for one output, assembled region by region.

    Parameters
    ----------
    output : grading.engine.output.Output
    frame : Region
        The whole of the graded frame.

    Attributes
    ----------
    is_resized : bool
    waits : bool
        Whether codes are made once the picture is complete, from whole rows.
    channels : tuple of str
        Those of the output, by name.
    """

    def __init__(self, output: Output, frame: Region) -> None:
        rows, columns = frame.shape
        width, height = output.size(columns, rows)
        self.output, self.top = output, (1 << output.bits) - 1
        self.channels = ("grey",) if output.is_grey else ("red", "green", "blue")
        self._dither = output.bits < 16
        self._codes = _empty(height, width, output.bits)
        self.is_resized = (width, height) != (columns, rows)
        self._amount = output.sharpen if self.is_resized or not output.resizes else 0
        self.waits = self.is_resized or self._amount > 0
        self._gamut, self._curve = gamut(output.rgb_space), transfer.coefficients(output.curve)
        if self.waits:
            self._rows = np.empty((3, rows, width), np.float32)
            self._across = kernels.resampling.taps(columns, width)
            self._down = kernels.resampling.taps(rows, height)

    def add(self, lab: np.ndarray, region: Region) -> tuple[np.ndarray, int]:
        """Take in a region of the picture.

        Parameters
        ----------
        lab : ndarray, shape (3, rows, columns), float32
        region : Region
            Whole rows where the output `waits`.

        Returns
        -------
        ends : ndarray, shape (2, 3), int64
            How many of the new codes are the lowest, and the highest, in each channel.
        outside : int
            How many pixels lay outside of the destination's gamut.
        """
        if self.output.is_grey:
            lab = lab.copy()
            lab[1:] = 0
        if not self.waits:
            return kernels.output.to_codes(
                lab, self._gamut, self._curve, self._codes, region.top, region.left,
                self._dither, self.top,
            )  # fmt: skip
        light, outside = kernels.gamut.bring_into_gamut(lab, self._gamut)
        rows = self._rows[:, region.top : region.bottom]
        kernels.resampling.resample_rows(light, *self._across, rows)
        return np.zeros((2, 3), np.int64), outside

    def complete(self, workers: int) -> np.ndarray:
        """Make the codes that need the whole picture; count the lowest and the highest."""
        if not self.waits:
            return np.zeros((2, 3), np.int64)
        return sum(run_all(self._strip, range(0, len(self._codes), STRIP), workers))

    @property
    def codes(self) -> np.ndarray:
        """The codes so far, shape (height, width, 3), or (height, width) of a grey output.

        uint8, or uint16 for more than 8 bits.
        """
        return self._codes[..., 1].copy() if self.output.is_grey else self._codes

    def shares(self, ends: np.ndarray) -> list[dict[str, float]]:
        """Shares of the lowest and of the highest codes, by channel, from how many there are."""
        height, width, _ = self._codes.shape
        counted = ends[:, 1:2] if self.output.is_grey else ends
        shares = (counted / (height * width)).tolist()
        return [dict(zip(self.channels, row, strict=True)) for row in shares]

    def _strip(self, top):
        bottom = min(top + STRIP, len(self._codes))
        light = self._light(top, bottom)
        return kernels.output.encode(
            light, self._curve, self._codes, top, 0, self._dither, self.top
        )

    def _light(self, top, bottom):
        """Rows of the output in its linear light, sharpened if that is asked for."""
        if not self._amount:
            return kernels.resampling.resample_columns(self._rows, *self._down, top, bottom)
        reach = kernels.sharpen.REACH
        first, end = max(top - reach, 0), min(bottom + reach, len(self._codes))
        light = kernels.resampling.resample_columns(self._rows, *self._down, first, end)
        space = spaces.rgb_to_xyz(spaces.SPACES[self.output.rgb_space])
        sharp = kernels.sharpen.sharpen(
            light, np.float32(space[1]), kernels.sharpen.blur_taps(SOFTNESS),
            np.float32(self._amount), np.float32(GRAIN), np.float32(1),
        )  # fmt: skip
        return np.ascontiguousarray(sharp[:, top - first : bottom - first])


def _empty(height, width, bits):
    return np.empty((height, width, 3), np.uint8 if bits == 8 else np.uint16)
