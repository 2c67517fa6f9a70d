"""The CIE 1931 standard observer, in closed form."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Lobes of x, y, z: height, wavelength in nm, widths below and above it. C. Wyman, P.-P. Sloan
# and P. Shirley, "Simple Analytic Approximations to the CIE XYZ Color Matching Functions",
# JCGT 2 (2013), the multi-lobe fit.
_LOBES = (
    ((1.056, 599.8, 37.9, 31.0), (0.362, 442.0, 16.0, 26.7), (-0.065, 501.1, 20.4, 26.2)),
    ((0.821, 568.8, 46.9, 40.5), (0.286, 530.9, 16.3, 31.1)),
    ((1.217, 437.0, 11.8, 36.0), (0.681, 459.0, 26.0, 13.8)),
)
_WAVELENGTHS = np.arange(360.0, 831.0)


def spectrum_to_xy(first: float, spacing: float, powers: ArrayLike) -> np.ndarray:
    """Chromaticity of a light from its spectrum.

    Parameters
    ----------
    first, spacing : float
        Wavelength of the first sample and distance between samples, nm.
    powers : array_like, shape (n,)
        Relative spectral power; linear in between, constant beyond the ends.

    Returns
    -------
    ndarray, shape (2,), float64
        CIE 1931 x, y; within 0.002 for lamps and daylight.

    Raises
    ------
    ValueError
        If there are fewer than two samples, their distance is not above 0, or all are dark.

    Examples
    --------
    Equal energy, (1/3, 1/3) in CIE 015:

    >>> spectrum_to_xy(380, 400, [1, 1]).round(3).tolist()
    [0.333, 0.334]
    """
    powers = np.asarray(powers, dtype=np.float64)
    if len(powers) < 2 or not spacing > 0:
        raise ValueError(f"{len(powers)} samples every {spacing} nm are no spectrum")
    light = np.interp(_WAVELENGTHS, first + spacing * np.arange(len(powers)), powers)
    xyz = np.array([sum(_lobe(*lobe) for lobe in lobes) @ light for lobes in _LOBES])
    if not xyz.sum() > 0:
        raise ValueError("a spectrum without power has no chromaticity")
    return xyz[:2] / xyz.sum()


def _lobe(height, centre, below, above):
    offset = _WAVELENGTHS - centre
    return height * np.exp(-((offset / np.where(offset < 0, below, above)) ** 2) / 2)
