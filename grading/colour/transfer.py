"""Transfer curves: linear light to encoded values and back, in float64.

All of them are instances of one form, which is also parametric curve type 3 of ICC.1:2022.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


class Coefficients(NamedTuple):
    """Coefficients of a decoding curve, ICC.1:2022 parametric curve type 3.

    linear = (a code + b) ** gamma where code >= d, else c code.
    """

    gamma: float
    a: float
    b: float
    c: float
    d: float


def _video(gamma, alpha, slope, knee):
    """The curve alpha linear ** (1 / gamma) - (alpha - 1), with a straight toe."""
    return Coefficients(gamma, 1 / alpha, (alpha - 1) / alpha, 1 / slope, knee)


_ALPHA, _BETA = 1.09929682680944, 0.018053968510807

_CURVES = {
    "linear": Coefficients(1.0, 1.0, 0.0, 1.0, 0.0),
    # IEC 61966-2-1:1999
    "srgb": _video(2.4, 1.055, 12.92, 0.04045),
    # ITU-R BT.2020-2 table 4, with the exact solution of its two conditions of continuity
    "bt2020": _video(1 / 0.45, _ALPHA, 4.5, 4.5 * _BETA),
    # IEC 61966-2-5:2007
    "oprgb": Coefficients(563 / 256, 1.0, 0.0, 1.0, 0.0),
}


def coefficients(name: str) -> Coefficients:
    """Coefficients of a curve.

    Parameters
    ----------
    name : {"linear", "srgb", "bt2020", "oprgb"}

    Returns
    -------
    Coefficients

    Raises
    ------
    ValueError
        If there is no such curve.

    Examples
    --------
    >>> coefficients("srgb").gamma
    2.4
    """
    if name not in _CURVES:
        raise ValueError(f"no transfer curve {name!r}; allowed: {', '.join(_CURVES)}")
    return _CURVES[name]


def decode(name: str, code: ArrayLike) -> np.ndarray:
    """Linear light of encoded values.

    Parameters
    ----------
    name : str
        A curve, see `coefficients`.
    code : array_like
        Encoded values, nominally 0 to 1; negative ones mirror the positive ones.

    Returns
    -------
    ndarray, float64, of the same shape

    Examples
    --------
    IEC 61966-2-1: the straight part of sRGB ends at code 0.04045, light 0.0031308:

    >>> round(float(decode("srgb", 0.04045)), 7)
    0.0031308
    """
    gamma, a, b, c, d = coefficients(name)
    code = np.asarray(code, dtype=np.float64)
    size = np.abs(code)
    return np.copysign(np.where(size < d, c * size, (a * size + b) ** gamma), code)


def encode(name: str, linear: ArrayLike) -> np.ndarray:
    """Encoded values of linear light; the inverse of `decode`.

    Parameters
    ----------
    name : str
        A curve, see `coefficients`.
    linear : array_like
        Linear light, nominally 0 to 1; negative values mirror the positive ones.

    Returns
    -------
    ndarray, float64, of the same shape

    Examples
    --------
    >>> encode("srgb", [0, 0.18, 1]).round(4).tolist()
    [0.0, 0.4614, 1.0]
    """
    gamma, a, b, c, d = coefficients(name)
    linear = np.asarray(linear, dtype=np.float64)
    size = np.abs(linear)
    return np.copysign(np.where(size < c * d, size / c, (size ** (1 / gamma) - b) / a), linear)
