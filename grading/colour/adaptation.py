"""Chromatic adaptation: what a colour under one white looks like under another.

Both transforms scale in a space of sharpened cone responses (von Kries), fully adapted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# C. Li et al., "Comprehensive color solutions: CAM16, CAT16, and CAM16-UCS", Color Research
# and Application 42 (2017), pages 703-718.
_CAT16 = np.array(
    [
        [0.401288, 0.650173, -0.051461],
        [-0.250268, 1.204414, 0.045854],
        [-0.002079, 0.048952, 0.953127],
    ]
)

# ICC.1:2022, annex E: the linear Bradford matrix.
_BRADFORD = np.array(
    [
        [0.8951, 0.2664, -0.1614],
        [-0.7502, 1.7135, 0.0367],
        [0.0389, -0.0685, 1.0296],
    ]
)


def _von_kries(to_cones, source_xyz, target_xyz):
    gains = (to_cones @ np.asarray(target_xyz)) / (to_cones @ np.asarray(source_xyz))
    return np.linalg.solve(to_cones, gains[:, None] * to_cones)


def cat16(source_xyz: ArrayLike, target_xyz: ArrayLike) -> np.ndarray:
    """Matrix of full adaptation in CAT16, between CIE 1931 XYZ values.

    Parameters
    ----------
    source_xyz, target_xyz : array_like, shape (3,)
        XYZ of the white adapted from and of the white adapted to.

    Returns
    -------
    ndarray, shape (3, 3), float64
        Takes `source_xyz` to `target_xyz`.

    Examples
    --------
    >>> (cat16((0.9505, 1, 1.0891), (0.9642, 1, 0.8249)) @ (0.9505, 1, 1.0891)).round(4).tolist()
    [0.9642, 1.0, 0.8249]
    """
    return _von_kries(_CAT16, source_xyz, target_xyz)


def bradford(source_xyz: ArrayLike, target_xyz: ArrayLike) -> np.ndarray:
    """Matrix of adaptation after Bradford, as the ICC profile connection space wants it.

    Parameters
    ----------
    source_xyz, target_xyz : array_like, shape (3,)
        XYZ of the white adapted from and of the white adapted to.

    Returns
    -------
    ndarray, shape (3, 3), float64
        Takes `source_xyz` to `target_xyz`.

    Examples
    --------
    >>> bradford((0.9505, 1, 1.0891), (0.9642, 1, 0.8249)).round(3).tolist()
    [[1.048, 0.023, -0.05], [0.03, 0.991, -0.017], [-0.009, 0.015, 0.752]]
    """
    return _von_kries(_BRADFORD, source_xyz, target_xyz)
