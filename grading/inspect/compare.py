"""How one graded picture of a frame differs from another, in numbers.

Differences of colour are CIEDE2000, of which about 1 can just be seen side by side. Shifts are
given in Oklab, the light of the recipes, so that they can be read against a recipe's own values.
"""

from dataclasses import dataclass

import numpy as np

from grading.colour import munsell, oklab, spaces, transfer
from grading.colour.difference import delta_e_2000, xyz_to_lab

LIMITS = (1, 2, 5)
"""CIEDE2000 above which pixels are counted."""

TONES = ("dark", "middle", "light")
"""Thirds of Oklab lightness."""

GREY = 0.02
"""Oklab chroma below which a pixel counts with no hue family."""


STRIP = 1 << 14
"""Pixels taken at a time, so that the many steps of the formula stay in the cache."""


@dataclass(frozen=True)
class Shift:
    """Mean change over some of the pixels, from the first picture to the second.

    Attributes
    ----------
    share : float
        Of the frame's pixels, 0..1.
    lightness, chroma : float
        In Oklab, lightness 0..1.
    hue : float
        Degrees of Oklab hue, -180..180, each pixel weighted by its chroma before and after.
    """

    share: float
    lightness: float
    chroma: float
    hue: float


@dataclass(frozen=True)
class Comparison:
    """Differences between two pictures of one frame.

    Attributes
    ----------
    delta_e : ndarray, shape (rows, columns), float32
        CIEDE2000.
    mean, median, percentile_95, largest : float
        Of `delta_e`; 95 % of the pixels stay below ``percentile_95``.
    over : dict
        From each of `LIMITS` to the share of pixels above it, 0..1.
    whole : Shift
    tones : dict
        From `TONES` to Shift; the third that a pixel belongs to in the first picture.
    families : dict
        From Munsell hue family to Shift, likewise; those without pixels are left out.
    """

    delta_e: np.ndarray
    mean: float
    median: float
    percentile_95: float
    largest: float
    over: dict
    whole: Shift
    tones: dict
    families: dict


def tristimulus(codes: np.ndarray, space: str) -> np.ndarray:
    """CIE 1931 XYZ of a picture's codes.

    Parameters
    ----------
    codes : ndarray, shape (rows, columns, 3), uint8 or uint16
    space : str
        Key of `grading.colour.spaces.SPACES`.

    Returns
    -------
    ndarray, shape (rows, columns, 3), float64
        White at Y = 1.
    """
    space = spaces.SPACES[space]
    top = np.iinfo(codes.dtype).max
    light = transfer.decode(space.transfer, np.arange(top + 1) / top)
    return light[codes] @ spaces.rgb_to_xyz(space).T


def compare(first: np.ndarray, second: np.ndarray) -> Comparison:
    """Measure how a picture differs from another.

    Parameters
    ----------
    first, second : ndarray, shape (rows, columns, 3), float64
        CIE 1931 XYZ with D65 white at Y = 1, from `tristimulus`.

    Returns
    -------
    Comparison
    """
    delta_e = difference_map(first, second)
    before, after = oklab.xyz_to_oklab(first), oklab.xyz_to_oklab(second)
    tone = np.clip((before[..., 0] * len(TONES)).astype(int), 0, len(TONES) - 1)
    family = _families(before)
    median, high = np.percentile(delta_e, [50, 95])
    return Comparison(
        delta_e=delta_e,
        mean=float(delta_e.mean(dtype=np.float64)),
        median=float(median),
        percentile_95=float(high),
        largest=float(delta_e.max()),
        over={limit: float((delta_e > limit).mean()) for limit in LIMITS},
        whole=_shift(before, after, np.ones(tone.shape, bool)),
        tones={
            name: _shift(before, after, tone == i)
            for i, name in enumerate(TONES)
            if (tone == i).any()
        },
        families={
            name: _shift(before, after, family == i)
            for i, name in enumerate(munsell.FAMILIES)
            if (family == i).any()
        },
    )


def difference_map(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """CIEDE2000 at each pixel.

    Parameters
    ----------
    first, second : ndarray, shape (rows, columns, 3), float64
        As for `compare`.

    Returns
    -------
    ndarray, shape (rows, columns), float32
    """
    white = spaces.xy_to_xyz(spaces.D65)
    strips = -(-first[..., 0].size // STRIP)
    maps = [
        delta_e_2000(xyz_to_lab(a, white), xyz_to_lab(b, white))
        for a, b in zip(np.array_split(first, strips), np.array_split(second, strips), strict=True)
    ]
    return np.concatenate(maps).astype(np.float32)


def _families(lab):
    """Index of each pixel's hue family in `munsell.FAMILIES`, -1 for a grey."""
    starts = np.array([munsell.hue_degrees(f"0{name}") for name in munsell.FAMILIES])
    turned = (oklab.hue(lab) - starts[0]) % 360
    index = np.searchsorted((starts - starts[0]) % 360, turned, side="right") - 1
    return np.where(np.hypot(lab[..., 1], lab[..., 2]) < GREY, -1, index)


def _shift(before, after, where):
    """The Shift of some pixels, one at least."""
    (l1, a1, b1), (l2, a2, b2) = before[where].T, after[where].T
    turn = ((a1 - 1j * b1) * (a2 + 1j * b2)).sum()
    return Shift(
        share=float(where.mean()),
        lightness=float((l2 - l1).mean()),
        chroma=float((np.hypot(a2, b2) - np.hypot(a1, b1)).mean()),
        hue=float(np.degrees(np.angle(turn))) if abs(turn) > 1e-9 else 0.0,
    )


def largest_place(delta_e: np.ndarray, side: int) -> tuple[float, float]:
    """Middle of the square of ``side`` pixels that differs most.

    Parameters
    ----------
    delta_e : ndarray, shape (rows, columns)
    side : int
        Less than both edges is cut down to them.

    Returns
    -------
    (float, float)
        x and y as fractions of the width and height.

    Examples
    --------
    >>> largest_place(np.eye(4) * [0, 0, 0, 9], 1)
    (0.875, 0.875)
    """
    height, width = delta_e.shape
    down, across = min(side, height), min(side, width)
    sums = np.pad(delta_e.cumsum(0, np.float64).cumsum(1), ((1, 0), (1, 0)))
    squares = sums[down:, across:] - sums[:-down, across:]
    squares -= sums[down:, :-across] - sums[:-down, :-across]
    y, x = np.unravel_index(squares.argmax(), squares.shape)
    return float((x + across / 2) / width), float((y + down / 2) / height)
