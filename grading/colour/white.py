"""White points: correlated colour temperature and Duv, mired, and the loci of lights.

Correlated colour temperature is that of the nearest point of the Planckian locus in the
CIE 1960 (u, v) diagram, and Duv the distance from it, positive above the locus, towards
green (ANSI C78.377; Y. Ohno, "Practical use and calculation of CCT and Duv", LEUKOS 10,
2014). The locus is that of CIE 015: Planck's law with c2 = 1.4388e-2 m K and the CIE 1931
standard observer.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.polynomial import chebyshev

from grading.colour.spaces import uv_to_xy, xy_to_uv

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

KELVIN_RANGE = (1000.0, 100000.0)
"""Correlated colour temperatures understood here."""

DUV_LIMIT = 0.05
"""Largest |Duv| at which a correlated colour temperature has a meaning (CIE 015)."""

# The Planckian locus as Chebyshev series in position = 2500 K / (T + 2500 K), a variable in
# which it runs evenly from infinite temperature (0) to 1000 K (5/7). Least squares fit to
# the CIE 1931 observer at 1 nm, 360 to 830 nm; within 3e-9 in u and v. The fit is made by
# tests/colour/test_white.py, which holds these numbers to it.
_PITCH = 2500.0
_END = _PITCH / (KELVIN_RANGE[0] + _PITCH)
_LOCUS = np.array(
    [
        [0.26500189746, 0.31853632133],
        [0.12412928521, 0.05263998922],
        [0.04842762994, -0.00972640888],
        [0.00997593928, -0.00771468237],
        [0.00069270417, 0.00022860093],
        [-0.00007090953, 0.00063714739],
        [-0.00006098263, 0.00003489642],
        [-0.00005380899, -0.00000537978],
        [-0.00002015787, 0.00000022403],
        [-0.00000626623, -0.00000633832],
        [-0.00000357550, -0.00000066010],
        [-0.00000106953, 0.00000126705],
        [0.00000011221, 0.00000012226],
        [0.00000009382, -0.00000013322],
        [-0.00000000272, 0.00000000624],
        [0.00000000162, 0.00000001274],
        [0.00000000421, -0.00000000364],
    ]
)
_SLOPE = chebyshev.chebder(_LOCUS) * (2 / _END)
_BEND = chebyshev.chebder(_SLOPE) * (2 / _END)
_SERIES = np.zeros((len(_LOCUS), 3, 2))
_SERIES[:, 0], _SERIES[:-1, 1], _SERIES[:-2, 2] = _LOCUS, _SLOPE, _BEND


def _locus(position):
    """Point, first and second derivative of the locus, each of shape (..., 2)."""
    values = chebyshev.chebval(2 * position / _END - 1, _SERIES)
    return np.moveaxis(values, (0, 1), (0, -1))


_STARTS = np.linspace(0.0, _END, 65)
_START_POINTS = _locus(_STARTS)[0]


def _nearest(uv):
    """Position of the nearest point of the locus; that of a single light is remembered."""
    return _found(uv) if uv.ndim > 1 else _nearest_to(*uv.tolist())


@lru_cache(maxsize=1024)
def _nearest_to(u, v):
    return _found(np.array([u, v]))


def _found(uv):
    """The best of a few starts, then Newton.

    It ends once nothing changes any more, which no further step would alter.
    """
    distance = ((uv[..., None, :] - _START_POINTS) ** 2).sum(axis=-1)
    position = _STARTS[distance.argmin(axis=-1)]
    for _ in range(6):
        point, tangent, bend = _locus(position)
        offset = uv - point
        slope = (tangent**2 - offset * bend).sum(axis=-1)
        step = (offset * tangent).sum(axis=-1) / np.maximum(slope, 1e-6)
        before, position = position, np.clip(position + np.clip(step, -0.01, 0.01), 0.0, _END)
        if np.array_equal(position, before):
            break
    return position


def _locus_and_normal(position):
    """Point of the locus and unit normal there, pointing to positive Duv."""
    point, tangent, _ = _locus(position)
    u, v = np.moveaxis(tangent, -1, 0)
    return point, np.stack([-v, u], axis=-1) / np.hypot(u, v)[..., None]


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
    point, normal = _locus_and_normal(_PITCH / (kelvin + _PITCH))
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
    position = _nearest(uv)
    point, normal = _locus_and_normal(position)
    duv = ((uv - point) * normal).sum(axis=-1)
    low, high = KELVIN_RANGE
    beyond = ((uv - point) * (normal[..., ::-1] * (1, -1))).sum(axis=-1) > 1e-12
    reached = (position > _PITCH / (high * (1 + 1e-9) + _PITCH)) & ~((position == _END) & beyond)
    inside = reached & (np.abs(duv) <= DUV_LIMIT * (1 + 1e-9))
    if not np.all(inside):
        x, y = xy[~inside].reshape(-1, 2)[0]
        raise ValueError(
            f"chromaticity ({x:.4f}, {y:.4f}) has no correlated colour temperature: it must lie "
            f"within {DUV_LIMIT:g} of the Planckian locus between {low:g} and {high:g} K"
        )
    return _PITCH / position - _PITCH, duv


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
    position = _nearest(xy_to_uv(_checked_xy(xy)))
    return np.clip(_PITCH / np.maximum(position, 1e-3) - _PITCH, *KELVIN_RANGE)


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
