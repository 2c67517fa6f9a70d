"""How sharp a frame is where it can be sharp.

Of each window the energy of its gradients is taken at two widths of smoothing, the noise's own is
subtracted, and the ratio tells by how wide a Gaussian the scene is blurred: to a scene whose power
falls as the square of the frequency (Field, JOSA A 4:2379, 1987) a blur of deviation s leaves
1 / (s² + a²) behind a smoothing of deviation a. The exposure cancels, and so does the noise but for
its chance. The sharpest tenth of the windows counts, since a scene has soft parts. (Measures of
focus compared: Pertuz, Puig and Garcia, Pattern Recognition 46:1415, 2013.)
"""

from __future__ import annotations

from functools import cache

import numpy as np

from grading.inspect.windows import SIDE, ZONES, Windows

FINE, COARSE = 0.7, 1.5
"""Deviations of the two smoothings, in pixels of a window."""

BEST = 0.1
"""Share of the windows that counts."""

SURE = 0.6
"""What the coarse energy of a window that counts must be to that of the fine noise."""

FEWEST = 3


FINEST = 0.4
"""Smoothing by which frames of one scene are compared; finer than `FINE`, so the noise counts."""


@cache
def _weight(smoothing, angle=None):
    """What a power has to be multiplied by to become the energy of smoothed gradients.

    With an angle, of the gradients within some 30 degrees of it.
    """
    fy, fx = np.fft.fftfreq(SIDE)[:, None], np.fft.rfftfreq(SIDE)[None]
    squared, twice = fx**2 + fy**2, np.where((fx == 0) | (fx == 0.5), 1, 2)
    gain = (2 * np.pi) ** 2 * squared * np.exp(-((2 * np.pi * smoothing) ** 2) * squared)
    if angle is not None:
        gain = gain * np.cos(np.arctan2(-fy, fx) - np.radians(angle)) ** 8
    return (twice * gain / SIDE**2).astype(np.float32)


def _energy(windows, smoothing, angle=None):
    """Energy of the gradients of each window, without that of the noise."""
    weight = _weight(smoothing, angle)
    power = np.einsum("nyx,yx->n", windows.power, weight, dtype=np.float64)
    return power - windows.noise * weight.sum()


def telling(windows: Windows) -> np.ndarray:
    """Which windows show more than noise, shape (n,), bool."""
    return _energy(windows, COARSE) > SURE * windows.noise * _weight(FINE).sum()


def blur_widths(windows: Windows, angle: float | None = None) -> np.ndarray:
    """Deviation of the Gaussian that each window looks blurred by, in pixels of the original.

    Parameters
    ----------
    windows : Windows
    angle : float, optional
        Only along this direction, degrees anticlockwise from the horizontal.
    """
    fine, coarse = (_energy(windows, each, angle) for each in (FINE, COARSE))
    ratio = np.maximum(fine / np.maximum(coarse, 1e-12), 1.001)
    squared = np.maximum((COARSE**2 - ratio * FINE**2) / (ratio - 1), 0)
    return windows.scale * np.sqrt(squared)


def softness(windows: Windows, angle: float | None = None) -> float:
    """Blur of the sharpest windows, in pixels of the original."""
    return float(np.quantile(blur_widths(windows, angle), BEST))


def sharpest(windows: Windows) -> tuple[float, tuple[float, float]] | None:
    """Blur of the sharpest places and where the best of them is.

    Parameters
    ----------
    windows : Windows
        Those that are `telling`.

    Returns
    -------
    float
        Deviation in pixels of the original; 0 is as sharp as its pixels.
    tuple of float
        x and y as fractions of the frame.

    None where too few windows tell.
    """
    if len(windows) < FEWEST:
        return None
    widths, fine = blur_widths(windows), _energy(windows, FINE)
    limit = np.quantile(widths, BEST)
    best = np.flatnonzero(widths <= limit)
    place = windows.place[best[fine[best].argmax()]]
    return float(limit), (float(place[0]), float(place[1]))


def detail_by_zone(windows: Windows) -> np.ndarray:
    """Finest over coarse energy of each zone, nan where nothing tells, for frames of one scene.

    Returns
    -------
    ndarray, shape (9,), float64
    """
    fine, coarse = (_energy(windows, each) for each in (FINEST, COARSE))
    found = np.full(ZONES**2, np.nan)
    for zone in np.unique(windows.zone):
        of_it = windows.zone == zone
        found[zone] = max(fine[of_it].sum(), 0) / coarse[of_it].sum()
    return found
