"""From a picture in Oklab to the codes of an output: gamut, size, transfer curve, dither.

Codes are made once. A picture of another size, or a turned one, is sampled in the destination's
linear light, in floating point (`grading.engine.sampling`). There it is sharpened, too.
"""

from __future__ import annotations

from threading import Lock

import numpy as np

from grading import kernels
from grading.colour import spaces, transfer
from grading.colour.gamut import gamut
from grading.engine.output import Output
from grading.engine.sampling import BLOCK, Resized, Turned, around_piece
from grading.engine.threads import run_all
from grading.framing.view import View
from grading.region import Region

NONE = np.zeros((2, 3), np.int64)

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
    view : View
        What of the graded frame is shown.
    ahead : int
        Rows that are worked on at a time, at most; where only some of a large frame's are.

    Attributes
    ----------
    needed : Region
        What of the frame has to be graded.
    is_sampled : bool
        Whether a pixel of the output is more than one of the frame.
    channels : tuple of str
        Those of the output, by name.
    """

    def __init__(self, output: Output, view: View, ahead: int) -> None:
        width, height = output.size(*view.size)
        self.output, self.top = output, (1 << output.bits) - 1
        self.channels = ("grey",) if output.is_grey else ("red", "green", "blue")
        self._dither, self._counts = output.bits < 16, []
        self._missing, self._lock = {}, Lock()
        self._codes = _empty(height, width, output.bits)
        self._gamut, self._curve = gamut(output.rgb_space), transfer.coefficients(output.curve)
        is_resized = (width, height) != view.size
        self._amount = output.sharpen if is_resized or not output.resizes else 0
        self._sampling, beyond = None, kernels.sharpen.REACH if self._amount else 0
        if not view.is_upright:
            self._sampling = Turned(view, width, height, beyond, ahead)
        elif is_resized or self._amount:
            self._sampling = Resized(view, width, height, beyond, ahead)
        self.is_sampled = self._sampling is not None
        self.needed = self._sampling.needed if self.is_sampled else view.crop

    def wanted(self, region: Region) -> Region:
        """What of a region of the frame matters to the picture; without rows if nothing does."""
        return self._sampling.wanted(region) if self.is_sampled else region.within(self.needed)

    def add(
        self, lab: np.ndarray, region: Region, tile: Region
    ) -> tuple[np.ndarray, int, int]:
        """Take in a tile of the picture.

        Parameters
        ----------
        lab : ndarray, shape (3, rows, columns), float32
        region : Region
            Where that lies: all that is `wanted` of the tile, or more of it.
        tile : Region
            Tiles come in bands: those with rows in common have the same rows. Where light is
            sampled, this waits until they have room.

        Returns
        -------
        ends : ndarray, shape (2, 3), int64
            How many of the new codes are the lowest, and the highest, in each channel.
        outside : int
            How many pixels lay outside of the destination's gamut.
        seen : int
            Of how many.
        """
        here, tile = region.within(self.needed), tile.within(self.needed)
        if 0 in tile.shape:
            return NONE, 0, 0
        lab = here.cut(lab, region)
        if self.output.is_grey:
            lab = lab.copy()
            lab[1:] = 0
        if self.is_sampled:
            counts = NONE, *self._take_light(lab, here)
            self._pass_on(tile)
            return counts
        ends, outside = kernels.output.to_codes(
            lab, self._gamut, self._curve, self._codes, *here.place_in(self.needed),
            self._dither, self.top,
        )  # fmt: skip
        return ends, outside, lab[0].size

    def _take_light(self, lab, region):
        """Put light in its place."""
        self._sampling.passing.wait_for_room(region.bottom - self.needed.top)
        return kernels.gamut.add_light(
            lab, region.place_in(self.needed), self._sampling.spans, BLOCK, self._gamut,
            self._sampling.light,
        )  # fmt: skip

    def _pass_on(self, tile):
        """Make the codes that the last tile of a band allows."""
        if self._completes(tile):
            first, last = (row - self.needed.top for row in (tile.top, tile.bottom))
            self._sampling.passing.came(first, last)
            for piece in self._sampling.passing.ready():
                self._counts.append(self._encode(piece))

    def _completes(self, tile):
        """Whether a tile is the last of its band."""
        with self._lock:
            missing = self._missing.pop(tile.top, self.needed.shape[1]) - tile.shape[1]
            if missing:
                self._missing[tile.top] = missing
        return not missing

    def give_up(self, error: BaseException) -> None:
        """Let no thread wait for a band that will never be complete, for this reason."""
        if self.is_sampled:
            self._sampling.passing.give_up(error)

    def complete(self, workers: int) -> np.ndarray:
        """Make the codes that are left; count the lowest and the highest where light is sampled."""
        if not self.is_sampled:
            return NONE
        rest = run_all(self._encode, self._sampling.passing.rest(), workers)
        self._sampling.give_back()
        return sum(self._counts + rest, NONE)

    def _encode(self, piece):
        """Codes of a piece of a sampled picture."""
        return kernels.output.encode(
            self._light(piece), self._curve, self._codes, piece.top, piece.left, self._dither,
            self.top,
        )  # fmt: skip

    def _light(self, piece):
        """Linear light of a piece, final in size and place, sharpened if that is asked for."""
        if not self._amount:
            return self._sampling.piece(piece)
        around = around_piece(piece, kernels.sharpen.REACH, Region.whole(*self._codes.shape[:2]))
        space = spaces.rgb_to_xyz(spaces.SPACES[self.output.rgb_space])
        sharp = kernels.sharpen.sharpen(
            self._sampling.piece(around), np.float32(space[1]),
            kernels.sharpen.blur_taps(SOFTNESS), np.float32(self._amount), np.float32(GRAIN),
            np.float32(1),
        )  # fmt: skip
        return piece.cut(sharp, around)

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


def _empty(height, width, bits):
    return np.empty((height, width, 3), np.uint8 if bits == 8 else np.uint16)
