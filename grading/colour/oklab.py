"""Oklab: lightness and two opponent axes in which hue and chroma are easy to speak of.

Matrices of W3C CSS Color Module Level 4, section "Sample code for color conversions" (the
matrices of B. Ottosson, "A perceptual color space for image processing", 2020, recomputed
in double precision for D65 at 0.3127, 0.3290).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.colour.spaces import WORKING, rgb_to_xyz

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

XYZ_TO_LMS = np.array(
    [
        [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
        [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
        [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
    ]
)
"""CIE 1931 XYZ (D65, Y of white 1) to cone responses."""

LMS_TO_OKLAB = np.array(
    [
        [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
        [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
        [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
    ]
)
"""Cube roots of cone responses to Oklab."""

LMS_TO_XYZ = np.linalg.inv(XYZ_TO_LMS)
OKLAB_TO_LMS = np.linalg.inv(LMS_TO_OKLAB)

WORKING_TO_LMS = XYZ_TO_LMS @ rgb_to_xyz(WORKING)
"""Working light (linear ITU-R BT.2020, D65) to cone responses."""

LMS_TO_WORKING = np.linalg.inv(WORKING_TO_LMS)


def _to_oklab(colours, to_lms):
    colours = np.asarray(colours, dtype=np.float64)
    return np.cbrt(colours @ to_lms.T) @ LMS_TO_OKLAB.T


def _from_oklab(lab, from_lms):
    lab = np.asarray(lab, dtype=np.float64)
    roots = lab @ OKLAB_TO_LMS.T
    return (roots * roots * roots) @ from_lms.T


def xyz_to_oklab(xyz: ArrayLike) -> np.ndarray:
    """Oklab of tristimulus values.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        CIE 1931 XYZ under D65, Y of white 1.

    Returns
    -------
    ndarray, shape (..., 3), float64
        Lightness L (white 1) and the opponent axes a, b.

    Examples
    --------
    B. Ottosson's table has (0.450, 1.236, -0.019):

    >>> xyz_to_oklab([1, 0, 0]).round(3).tolist()
    [0.45, 1.236, -0.019]
    """
    return _to_oklab(xyz, XYZ_TO_LMS)


def oklab_to_xyz(lab: ArrayLike) -> np.ndarray:
    """Tristimulus values of Oklab colours; the inverse of `xyz_to_oklab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3), float64

    Examples
    --------
    >>> oklab_to_xyz([1, 0, 0]).round(4).tolist()
    [0.9505, 1.0, 1.0891]
    """
    return _from_oklab(lab, LMS_TO_XYZ)


def working_to_oklab(rgb: ArrayLike) -> np.ndarray:
    """Oklab of the working light.

    Parameters
    ----------
    rgb : array_like, shape (..., 3)
        Linear ITU-R BT.2020, D65.

    Returns
    -------
    ndarray, shape (..., 3), float64

    Examples
    --------
    >>> round(float(working_to_oklab([0.18, 0.18, 0.18])[0]), 4)
    0.5646
    """
    return _to_oklab(rgb, WORKING_TO_LMS)


def oklab_to_working(lab: ArrayLike) -> np.ndarray:
    """Working light of Oklab colours; the inverse of `working_to_oklab`.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (..., 3), float64
    """
    return _from_oklab(lab, LMS_TO_WORKING)


def hue(lab: ArrayLike) -> np.ndarray:
    """Hue angle, counted from the a axis towards the b axis.

    Parameters
    ----------
    lab : array_like, shape (..., 3)

    Returns
    -------
    ndarray, shape (...), float64
        Degrees, 0 <= hue < 360; 0 for an exact grey.

    Examples
    --------
    >>> float(hue([0.5, 0, 0.1]))
    90.0
    """
    lab = np.asarray(lab, dtype=np.float64)
    # twice, since the remainder of a tiny negative angle rounds to 360
    return np.degrees(np.arctan2(lab[..., 2], lab[..., 1])) % 360 % 360
