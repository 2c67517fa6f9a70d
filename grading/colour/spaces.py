"""RGB colour spaces, and the matrices between them, exact from their chromaticities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

D65 = (0.3127, 0.3290)
"""Chromaticity of D65 as the RGB standards state it (ITU-R BT.2020, IEC 61966-2-1)."""

MIDDLE_GREY = 0.18
"""Linear light of middle grey, white being 1; common practice, no source."""


@dataclass(frozen=True)
class RGBSpace:
    """An additive RGB space.

    Attributes
    ----------
    name : str
        Key in `SPACES`.
    title : str
        Name for people.
    primaries : tuple of three (x, y)
        CIE 1931 chromaticities of red, green and blue.
    white : (x, y)
        CIE 1931 chromaticity of R = G = B.
    transfer : str
        Name of the transfer curve in `grading.colour.transfer`.
    """

    name: str
    title: str
    primaries: tuple[tuple[float, float], ...]
    white: tuple[float, float]
    transfer: str


_BT709 = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
_P3 = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
_BT2020 = ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046))
_OPRGB = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))

SPACES = {
    space.name: space
    for space in (
        # IEC 61966-2-1:1999
        RGBSpace("srgb", "sRGB", _BT709, D65, "srgb"),
        # SMPTE EG 432-1:2010 primaries with D65 and the sRGB curve, as in W3C CSS Color 4
        RGBSpace("display-p3", "Display P3", _P3, D65, "srgb"),
        # ITU-R BT.2020-2 (2015)
        RGBSpace("bt2020", "BT.2020", _BT2020, D65, "bt2020"),
        # IEC 61966-2-5:2007
        RGBSpace("oprgb", "opRGB", _OPRGB, D65, "oprgb"),
    )
}
"""The output spaces by name."""

WORKING = SPACES["bt2020"]
"""The space of the working light, taken linear."""


def xy_to_xyz(xy: ArrayLike) -> np.ndarray:
    """Tristimulus values of a chromaticity at unit luminance.

    Parameters
    ----------
    xy : array_like, shape (..., 2)
        CIE 1931 chromaticity, y > 0.

    Returns
    -------
    ndarray, shape (..., 3), float64
        X, Y, Z with Y = 1.

    Examples
    --------
    >>> xy_to_xyz(D65).round(4).tolist()
    [0.9505, 1.0, 1.0891]
    """
    x, y = np.moveaxis(np.asarray(xy, dtype=np.float64), -1, 0)
    return np.stack([x / y, np.ones_like(y), (1 - x - y) / y], axis=-1)


def xyz_to_xy(xyz: ArrayLike) -> np.ndarray:
    """Chromaticity of tristimulus values.

    Parameters
    ----------
    xyz : array_like, shape (..., 3)
        X, Y, Z, with a sum other than 0.

    Returns
    -------
    ndarray, shape (..., 2), float64
        CIE 1931 x, y.

    Examples
    --------
    >>> xyz_to_xy([1, 1, 1]).round(4).tolist()
    [0.3333, 0.3333]
    """
    xyz = np.asarray(xyz, dtype=np.float64)
    return xyz[..., :2] / xyz.sum(axis=-1, keepdims=True)


def xy_to_uv(xy: ArrayLike) -> np.ndarray:
    """CIE 1960 chromaticity of a CIE 1931 one.

    Parameters
    ----------
    xy : array_like, shape (..., 2)
        CIE 1931 x, y.

    Returns
    -------
    ndarray, shape (..., 2), float64
        CIE 1960 u, v (CIE 015; v is 2/3 of the v' of 1976).

    Examples
    --------
    D65, (0.1978, 0.3122) in CIE 015:

    >>> xy_to_uv(D65).round(4).tolist()
    [0.1978, 0.3122]
    """
    x, y = np.moveaxis(np.asarray(xy, dtype=np.float64), -1, 0)
    return np.stack([4 * x, 6 * y], axis=-1) / (3 - 2 * x + 12 * y)[..., None]


def uv_to_xy(uv: ArrayLike) -> np.ndarray:
    """CIE 1931 chromaticity of a CIE 1960 one; the inverse of `xy_to_uv`.

    Parameters
    ----------
    uv : array_like, shape (..., 2)
        CIE 1960 u, v.

    Returns
    -------
    ndarray, shape (..., 2), float64
        CIE 1931 x, y.

    Examples
    --------
    >>> uv_to_xy(xy_to_uv(D65)).round(4).tolist()
    [0.3127, 0.329]
    """
    u, v = np.moveaxis(np.asarray(uv, dtype=np.float64), -1, 0)
    return np.stack([3 * u, 2 * v], axis=-1) / (4 + 2 * u - 8 * v)[..., None]


def rgb_to_xyz(space: RGBSpace) -> np.ndarray:
    """Matrix from linear RGB to CIE 1931 XYZ, with R = G = B = 1 at Y = 1.

    Parameters
    ----------
    space : RGBSpace

    Returns
    -------
    ndarray, shape (3, 3), float64

    Notes
    -----
    SMPTE RP 177: the columns are the primaries, scaled so that they add up to the white.

    Examples
    --------
    The matrix of IEC 61966-2-1:

    >>> rgb_to_xyz(SPACES["srgb"]).round(4).tolist()
    [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    """
    primaries = xy_to_xyz(space.primaries).T
    return primaries * np.linalg.solve(primaries, xy_to_xyz(space.white))


def xyz_to_rgb(space: RGBSpace) -> np.ndarray:
    """Matrix from CIE 1931 XYZ to linear RGB; the inverse of `rgb_to_xyz`.

    Parameters
    ----------
    space : RGBSpace

    Returns
    -------
    ndarray, shape (3, 3), float64

    Examples
    --------
    >>> xyz_to_rgb(SPACES["srgb"]).round(2).tolist()
    [[3.24, -1.54, -0.5], [-0.97, 1.88, 0.04], [0.06, -0.2, 1.06]]
    """
    return np.linalg.inv(rgb_to_xyz(space))


def rgb_to_rgb(source: RGBSpace, target: RGBSpace) -> np.ndarray:
    """Matrix from one linear RGB space to another of the same white.

    Parameters
    ----------
    source, target : RGBSpace

    Returns
    -------
    ndarray, shape (3, 3), float64

    Examples
    --------
    >>> rgb_to_rgb(SPACES["srgb"], WORKING).round(4).tolist()
    [[0.6274, 0.3293, 0.0433], [0.0691, 0.9195, 0.0114], [0.0164, 0.088, 0.8956]]
    """
    return xyz_to_rgb(target) @ rgb_to_xyz(source)
