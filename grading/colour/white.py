"""White points: correlated colour temperature and Duv, mired, and phases of daylight.

Correlated colour temperature is that of the nearest point of the Planckian locus in the
CIE 1960 (u, v) diagram, and Duv the distance from it, positive above the locus, towards
green (ANSI C78.377; Y. Ohno, "Practical use and calculation of CCT and Duv", LEUKOS 10,
2014).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.colour.locus import END, KELVIN_RANGE, PITCH, locus_and_normal, nearest_position
from grading.colour.spaces import uv_to_xy, xy_to_uv

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

DUV_LIMIT = 0.05
"""Largest |Duv| at which a correlated colour temperature has a meaning (CIE 015)."""


def _checked(name, values, low, high, unit=""):
    values = np.asarray(values, dtype=np.float64)
    inside = (values >= low) & (values <= high)
    if not np.all(inside):
        wrong = values[~inside].flat[0]
        raise ValueError(f"{name} {wrong:g}{unit} is not within {low:g} to {high:g}{unit}")
    return values


def _checked_xy(xy):
    xy = np.asarray(xy, dtype=np.float64)
    if not (np.all(np.isfinite(xy)) and np.all(xy[..., 1] > 0)):
        raise ValueError(f"chromaticity {xy.tolist()} is not a light; y must be above 0")
    return xy


def kelvin_duv_to_xy(kelvin: ArrayLike, duv: ArrayLike | None = None) -> np.ndarray:
    """Chromaticity of a light from correlated colour temperature and Duv.

    Parameters
    ----------
    kelvin : array_like, shape (...)
        Correlated colour temperature, 1000 to 100000 K.
    duv : array_like, shape (...), optional
        Distance from the Planckian locus, -0.05 to 0.05; `default_duv` when not given.

    Returns
    -------
    ndarray, shape (..., 2), float64
        CIE 1931 x, y.

    Raises
    ------
    ValueError
        If a value is out of its range.

    Examples
    --------
    CIE standard illuminant A, (0.44758, 0.40745) in CIE 015:

    >>> kelvin_duv_to_xy(2855.5, 0).round(4).tolist()
    [0.4476, 0.4074]
    """
    kelvin = _checked("temperature", kelvin, *KELVIN_RANGE, " K")
    duv = default_duv(kelvin) if duv is None else _checked("Duv", duv, -DUV_LIMIT, DUV_LIMIT)
    point, normal = locus_and_normal(PITCH / (kelvin + PITCH))
    return uv_to_xy(point + duv[..., None] * normal)


def xy_to_kelvin_duv(xy: ArrayLike) -> tuple[np.ndarray, np.ndarray]:
    """Correlated colour temperature and Duv of a chromaticity.

    Parameters
    ----------
    xy : array_like, shape (..., 2)
        CIE 1931 x, y.

    Returns
    -------
    kelvin, duv : ndarray, shape (...), float64

    Raises
    ------
    ValueError
        If a chromaticity is further than 0.05 from the Planckian locus between 1000 and
        100000 K, where it has no correlated colour temperature.

    Examples
    --------
    D65, about 6504 K in CIE 015:

    >>> kelvin, duv = xy_to_kelvin_duv((0.31272, 0.32903))
    >>> round(float(kelvin)), round(float(duv), 4)
    (6503, 0.0032)
    """
    xy = _checked_xy(xy)
    uv = xy_to_uv(xy)
    position = nearest_position(uv)
    point, normal = locus_and_normal(position)
    duv = ((uv - point) * normal).sum(axis=-1)
    low, high = KELVIN_RANGE
    beyond = ((uv - point) * (normal[..., ::-1] * (1, -1))).sum(axis=-1) > 1e-12
    reached = (position > PITCH / (high * (1 + 1e-9) + PITCH)) & ~((position == END) & beyond)
    inside = reached & (np.abs(duv) <= DUV_LIMIT * (1 + 1e-9))
    if not np.all(inside):
        x, y = xy[~inside].reshape(-1, 2)[0]
        raise ValueError(
            f"chromaticity ({x:.4f}, {y:.4f}) has no correlated colour temperature: it must lie "
            f"within {DUV_LIMIT:g} of the Planckian locus between {low:g} and {high:g} K"
        )
    return PITCH / position - PITCH, duv


def nearest_kelvin(xy: ArrayLike) -> np.ndarray:
    """Temperature of the nearest point of the Planckian locus, however far it is.

    Parameters
    ----------
    xy : array_like, shape (..., 2)
        CIE 1931 x, y.

    Returns
    -------
    ndarray, shape (...), float64
        Kelvin, kept within 1000 to 100000.

    Raises
    ------
    ValueError
        If the chromaticity is not that of a light.

    Examples
    --------
    >>> round(float(nearest_kelvin((0.44758, 0.40745))))
    2856
    """
    position = nearest_position(xy_to_uv(_checked_xy(xy)))
    return np.clip(PITCH / np.maximum(position, 1e-3) - PITCH, *KELVIN_RANGE)


def daylight_xy(kelvin: ArrayLike) -> np.ndarray:
    """Chromaticity of a phase of daylight.

    Parameters
    ----------
    kelvin : array_like, shape (...)
        4000 to 25000 K.

    Returns
    -------
    ndarray, shape (..., 2), float64
        CIE 1931 x, y.

    Raises
    ------
    ValueError
        If a temperature is out of range.

    Notes
    -----
    CIE 015, the daylight locus.

    Examples
    --------
    Beside D65, (0.31272, 0.32903) in CIE 015:

    >>> daylight_xy(6504).round(4).tolist()
    [0.3127, 0.3291]
    """
    kelvin = _checked("daylight temperature", kelvin, 4000, 25000, " K")
    r = 1e3 / kelvin
    x = np.where(
        kelvin <= 7000,
        0.244063 + r * (0.09911 + r * (2.9678 - r * 4.6070)),
        0.237040 + r * (0.24748 + r * (1.9018 - r * 2.0064)),
    )
    return np.stack([x, -0.275 + x * (2.870 - 3.000 * x)], axis=-1)


def default_duv(kelvin: ArrayLike) -> np.ndarray:
    """Duv of the usual light of a temperature.

    That of daylight from 5000 K (kept constant above 25000 K, where the CIE locus ends), 0
    up to 4000 K where lights are thermal, and a smooth cross-fade in mired between them.

    Parameters
    ----------
    kelvin : array_like, shape (...)
        Correlated colour temperature, 1000 to 100000 K.

    Returns
    -------
    ndarray, shape (...), float64

    Raises
    ------
    ValueError
        If a temperature is out of range.

    Examples
    --------
    >>> default_duv([3000, 6504]).round(4).tolist()
    [0.0, 0.0033]
    """
    kelvin = _checked("temperature", kelvin, *KELVIN_RANGE, " K")
    share = np.clip((250 - kelvin_to_mired(kelvin)) / (250 - 200), 0, 1)
    _, duv = xy_to_kelvin_duv(daylight_xy(np.clip(kelvin, 4000, 25000)))
    return share**2 * (3 - 2 * share) * duv


def kelvin_to_mired(kelvin: ArrayLike) -> np.ndarray:
    """Reciprocal megakelvin of a temperature.

    Parameters
    ----------
    kelvin : array_like, shape (...)
        Above 0.

    Returns
    -------
    ndarray, shape (...), float64

    Raises
    ------
    ValueError
        If a temperature is not above 0.

    Examples
    --------
    >>> float(kelvin_to_mired(5000))
    200.0
    """
    kelvin = np.asarray(kelvin, dtype=np.float64)
    if not np.all(kelvin > 0):
        raise ValueError(f"temperature {kelvin.tolist()} K is not above 0")
    return 1e6 / kelvin


def mired_to_kelvin(mired: ArrayLike) -> np.ndarray:
    """Temperature of reciprocal megakelvin; the inverse of `kelvin_to_mired`.

    Parameters
    ----------
    mired : array_like, shape (...)
        Above 0.

    Returns
    -------
    ndarray, shape (...), float64

    Raises
    ------
    ValueError
        If a value is not above 0.

    Examples
    --------
    >>> float(mired_to_kelvin(200))
    5000.0
    """
    mired = np.asarray(mired, dtype=np.float64)
    if not np.all(mired > 0):
        raise ValueError(f"{mired.tolist()} mired is not above 0")
    return 1e6 / mired
