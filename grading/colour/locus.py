"""The Planckian locus in the CIE 1960 (u, v) diagram: its points, and the nearest to a light.

The locus is that of CIE 015: Planck's law with c2 = 1.4388e-2 m K and the CIE 1931 standard
observer. It is stated as Chebyshev series in position = 2500 K / (T + 2500 K), a variable in which
it runs evenly from infinite temperature (0) to 1000 K (5/7). Least squares fit to the observer at
1 nm, 360 to 830 nm; within 3e-9 in u and v. The fit is made by tests/colour/test_white.py, which
holds these numbers to it.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.polynomial import chebyshev

KELVIN_RANGE = (1000.0, 100000.0)
"""Correlated colour temperatures understood here."""

PITCH = 2500.0
"""Kelvin; the position of a temperature is this over itself and the temperature together."""

END = PITCH / (KELVIN_RANGE[0] + PITCH)
"""Position of the lowest temperature."""

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
_SLOPE = chebyshev.chebder(_LOCUS) * (2 / END)
_BEND = chebyshev.chebder(_SLOPE) * (2 / END)
_SERIES = np.zeros((len(_LOCUS), 3, 2))
_SERIES[:, 0], _SERIES[:-1, 1], _SERIES[:-2, 2] = _LOCUS, _SLOPE, _BEND


def _locus(position):
    """Point, first and second derivative of the locus, each of shape (..., 2)."""
    values = chebyshev.chebval(2 * position / END - 1, _SERIES)
    return np.moveaxis(values, (0, 1), (0, -1))


_STARTS = np.linspace(0.0, END, 65)
_START_POINTS = _locus(_STARTS)[0]


def nearest_position(uv: np.ndarray) -> np.ndarray:
    """Position of the nearest point of the locus; that of a single light is remembered.

    Parameters
    ----------
    uv : ndarray, shape (..., 2), float64
        CIE 1960 u, v.

    Returns
    -------
    ndarray, shape (...), float64
        0 to `END`.

    Examples
    --------
    Illuminant A, 2856 K, and so near 2500 / 5356:

    >>> round(float(nearest_position(np.array([0.25597, 0.34954]))), 3)
    0.467
    """
    return _nearest(uv) if uv.ndim > 1 else _nearest_to(*uv.tolist())


@lru_cache(maxsize=1024)
def _nearest_to(u, v):
    return _nearest(np.array([u, v]))


def _nearest(uv):
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
        before, position = position, np.clip(position + np.clip(step, -0.01, 0.01), 0.0, END)
        if np.array_equal(position, before):
            break
    return position


def locus_and_normal(position: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Point of the locus and unit normal there, pointing to positive Duv.

    Parameters
    ----------
    position : ndarray, shape (...), float64
        0 to `END`.

    Returns
    -------
    point, normal : ndarray, shape (..., 2), float64
    """
    point, tangent, _ = _locus(position)
    u, v = np.moveaxis(tangent, -1, 0)
    return point, np.stack([-v, u], axis=-1) / np.hypot(u, v)[..., None]
