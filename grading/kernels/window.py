"""Lanczos's window of three lobes, which says how much a pixel weighs by how far it lies.

Source: Duchon, J. Appl. Meteorol. 18:1016, 1979.
"""

from functools import lru_cache

import numpy as np

LOBES = 3
COEFFICIENTS = 6


def lanczos(distance: np.ndarray) -> np.ndarray:
    """The window; 0 from three pixels on.

    >>> lanczos(np.array([0.0, 0.5, 1.5])).round(4).tolist()
    [1.0, 0.6079, -0.1351]
    """
    inside = np.abs(distance) < LOBES
    return np.where(inside, np.sinc(distance) * np.sinc(distance / LOBES), 0)


@lru_cache(maxsize=8)
def polynomials(scale: float) -> np.ndarray:
    """The weights of pixels about a place as polynomials in the way from the middle of two pixels.

    They meet `lanczos`, made to sum to one, at the extrema of a Chebyshev polynomial.

    Parameters
    ----------
    scale : float
        Pixels for one that is made. Above 1 the window is wider by as much.

    Returns
    -------
    ndarray, shape (n, 6), float32
        Of the first half of 2 n pixels, which the other half mirrors; coefficients that rise in
        order.

    Examples
    --------
    >>> polynomials(1.0)[:, 0].astype(float).round(4).tolist()  # half way between two pixels
    [0.0245, -0.1359, 0.6113]
    """
    scale = max(scale, 1)
    half = int(np.ceil(LOBES * scale))
    way = (1 - np.cos(np.pi * np.arange(COEFFICIENTS) / (COEFFICIENTS - 1))) / 2
    weights = lanczos((np.arange(2 * half)[:, None] - (half - 1) - way) / scale)
    weights /= weights.sum(axis=0)
    powers = np.vander(way - 0.5, increasing=True)
    return np.linalg.solve(powers, weights.T).T[:half].astype(np.float32, order="C")
