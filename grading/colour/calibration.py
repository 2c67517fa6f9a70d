"""What is known of how a camera sees colour: matrices, the lights they belong to, and a neutral."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Calibration:
    """A camera matrix and the light it was measured under.

    Attributes
    ----------
    kelvin : float
        Correlated colour temperature of the calibration light.
    xyz_to_camera : ndarray, shape (3, 3), float64
        CIE 1931 XYZ to linear camera RGB.
    xy : ndarray, shape (2,), float64, or None
        CIE 1931 chromaticity of the light; known wherever there are three calibrations.
    """

    kelvin: float
    xyz_to_camera: np.ndarray
    xy: np.ndarray | None = None


@dataclass(frozen=True)
class Camera:
    """How the camera sees colour.

    Attributes
    ----------
    calibrations : tuple of Calibration
        One, or two in rising order of kelvin; a third, of any kelvin, comes last.
    neutral : ndarray, shape (3,), float64
        Camera RGB of a neutral surface under the as-shot white, largest channel 1.
    """

    calibrations: tuple[Calibration, ...]
    neutral: np.ndarray
