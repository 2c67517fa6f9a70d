"""CIE 1976 L*a*b* and the colour difference CIEDE2000."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def xyz_to_lab(xyz: ArrayLike, white_xyz: ArrayLike) -> np.ndarray:
    """CIE 1976 L*a*b* of tristimulus values.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        CIE 1931 XYZ.
    white_xyz : array_like, shape (3,)
        XYZ of the reference white, on the same scale.

    Returns
    -------
    ndarray, shape (..., 3), float64
        L* (white 100), a*, b*.

    Notes
    -----
    ISO/CIE 11664-4:2019.

    Examples
    --------
    L* is 116 Y^(1/3) - 16:

    >>> xyz_to_lab([0.18, 0.18, 0.18], [1, 1, 1]).round(3).tolist()
    [49.496, 0.0, 0.0]
    """
    ratio = np.asarray(xyz, dtype=np.float64) / np.asarray(white_xyz, dtype=np.float64)
    line = ratio * (29 / 6) ** 2 / 3 + 4 / 29
    x, y, z = np.moveaxis(np.where(ratio > (6 / 29) ** 3, np.cbrt(ratio), line), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def _mean_hue(h1, h2, chromatic):
    """Mean of two hues in degrees by the shorter way; their sum where either is a grey's."""
    near = np.abs(h1 - h2) <= 180
    total = h1 + h2
    far = np.where(total < 360, total + 360, total - 360)
    return np.where(chromatic, np.where(near, total, far) / 2, total)


def delta_e_2000(lab1: ArrayLike, lab2: ArrayLike) -> np.ndarray:
    """Colour difference CIEDE2000, with all parametric factors 1.

    Parameters
    ----------
    lab1, lab2 : array_like, shape (..., 3)
        CIE 1976 L*a*b*; the leading shapes are broadcast.

    Returns
    -------
    ndarray, shape (...), float64

    Notes
    -----
    ISO/CIE 11664-6:2014, in the notation of G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000
    color-difference formula: implementation notes", Color Research and Application 30 (2005).

    Examples
    --------
    The first pair of Sharma, Wu and Dalal's test data, 2.0425:

    >>> round(float(delta_e_2000((50, 2.6772, -79.7751), (50, 0, -82.7485))), 4)
    2.0425
    """
    l1, a1, b1 = np.moveaxis(np.asarray(lab1, dtype=np.float64), -1, 0)
    l2, a2, b2 = np.moveaxis(np.asarray(lab2, dtype=np.float64), -1, 0)

    mean_chroma7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    stretch = 1.5 - 0.5 * np.sqrt(mean_chroma7 / (mean_chroma7 + 25.0**7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    chromatic = c1 * c2 > 0

    turn = np.where(chromatic, (h2 - h1 + 180) % 360 - 180, 0)
    dl, dc = l2 - l1, c2 - c1
    dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(turn) / 2)

    light, c, h = (l1 + l2) / 2, (c1 + c2) / 2, np.radians(_mean_hue(h1, h2, chromatic))
    t = (
        1
        - 0.17 * np.cos(h - np.radians(30))
        + 0.24 * np.cos(2 * h)
        + 0.32 * np.cos(3 * h + np.radians(6))
        - 0.20 * np.cos(4 * h - np.radians(63))
    )
    sl = 1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2)
    sc = 1 + 0.045 * c
    sh = 1 + 0.015 * c * t
    blue = np.radians(30) * np.exp(-(((np.degrees(h) - 275) / 25) ** 2))
    rotation = -2 * np.sqrt(c**7 / (c**7 + 25.0**7)) * np.sin(2 * blue)

    dl, dc, dh = dl / sl, dc / sc, dh / sh
    return np.sqrt(np.maximum(dl**2 + dc**2 + dh**2 + rotation * dc * dh, 0))
