"""The gamut of an RGB space in Oklab, prepared for bringing colours into it."""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from grading.colour import oklab
from grading.colour.spaces import SPACES, xyz_to_rgb
from grading.kernels.diamond import diamond_degrees

STEPS = 4096
"""Of the table around the circle of hue."""

LONGEST = 2.0
"""Chroma to lightness beyond which no table entry goes; no real colour gets there."""

STEEPEST = 12.0
"""Change of the limit a radian at most; see `darkest_channel_limit`."""


class Gamut(NamedTuple):
    """What a kernel needs to know of a destination.

    Attributes
    ----------
    to_lms : ndarray, shape (3, 3), float32
        Oklab to the cube root of cone response.
    to_rgb : ndarray, shape (3, 3), float32
        Cone response to linear light of the space.
    limit : ndarray, shape (STEPS + 1,), float32
        Chroma to lightness at which the darkest channel reaches 0, at even steps of the diamond
        angle of hue (`grading.kernels.diamond`).
    """

    to_lms: np.ndarray
    to_rgb: np.ndarray
    limit: np.ndarray


@lru_cache
def gamut(space: str) -> Gamut:
    """The `Gamut` of a space, by its key in `grading.colour.spaces.SPACES`."""
    to_rgb = xyz_to_rgb(SPACES[space]) @ oklab.LMS_TO_XYZ
    limit = darkest_channel_limit(to_rgb, np.radians(diamond_degrees(STEPS)))
    return Gamut(*(np.float32(each) for each in (oklab.OKLAB_TO_LMS, to_rgb, limit)))


def darkest_channel_limit(to_rgb: np.ndarray, hue: np.ndarray) -> np.ndarray:
    """Chroma to lightness at which a channel reaches 0, made continuous where it jumps.

    Linear light grows with the cube of (lightness, chroma), so whether a channel is below 0
    depends on their ratio and the hue alone. Beside blue, lines of even hue leave the gamut and
    come back (sRGB: hue 264.1, with a channel down to -0.0007), so the first crossing jumps
    there. A gradient across that hue would break, so the limit is raised to the least that nowhere
    changes faster than `STEEPEST` a radian; what then is below 0 is so by less than 0.003 and is
    cut off.

    Parameters
    ----------
    to_rgb : ndarray, shape (3, 3)
        Cone response to linear light.
    hue : ndarray, shape (n,)
        Radians, rising from 0 to 2 pi.

    Returns
    -------
    ndarray, shape (n,), float64
    """
    slopes = oklab.OKLAB_TO_LMS[:, 1:] @ np.stack([np.cos(hue), np.sin(hue)])
    low, high = _first_crossing(to_rgb, slopes, np.linspace(0, LONGEST, 401))
    for _ in range(40):
        middle = (low + high) / 2
        inside = _darkest(to_rgb, slopes, middle) >= 0
        low, high = np.where(inside, middle, low), np.where(inside, high, middle)
    for corner_hue, ratio in _corners(to_rgb):
        away = np.abs((hue - corner_hue + np.pi) % (2 * np.pi) - np.pi)
        low = np.maximum(low, ratio - STEEPEST * away)
    return _evened(low, hue)


def _corners(to_rgb):
    """Hue and chroma to lightness of the primaries and of their even mixtures."""
    rgb = np.concatenate([np.eye(3), 1 - np.eye(3)])
    lightness, a, b = oklab.LMS_TO_OKLAB @ np.cbrt(np.linalg.solve(to_rgb, rgb.T))
    return zip(np.arctan2(b, a), np.hypot(a, b) / lightness, strict=True)


def _darkest(to_rgb, slopes, ratio):
    """The darkest channel at lightness 1."""
    return (to_rgb @ (1 + slopes * ratio) ** 3).min(axis=0)


def _first_crossing(to_rgb, slopes, ratios):
    """Neighbours among the ratios between which a channel first falls below 0, for each hue."""
    below = np.stack([_darkest(to_rgb, slopes, ratio) < 0 for ratio in ratios])
    first = np.where(below.any(axis=0), below.argmax(axis=0), len(ratios) - 1)
    return ratios[first - 1], ratios[first]


def _evened(limit, hue):
    """The upper envelope of what falls by `STEEPEST` a radian on both sides of each value."""
    fall = STEEPEST * np.diff(hue)
    for k in range(1, len(limit)):
        limit[k] = max(limit[k], limit[k - 1] - fall[k - 1])
    for k in range(len(limit) - 2, -1, -1):
        limit[k] = max(limit[k], limit[k + 1] - fall[k])
    limit[0] = limit[-1] = max(limit[0], limit[-1])
    return limit
