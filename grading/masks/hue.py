"""Places by the hue of their colour."""

import numpy as np

from grading import kernels
from grading.masks.shape import Ground, Mask, Shape
from grading.stages.stage import Hue, Model, parameter

TABLE_SIZE = 1440
"""Steps around the circle."""

GREY_CHROMA = 0.03
"""Oklab chroma from which a colour has its whole weight; ours."""


class HueWindow(Model):
    """Places by the hue of their colour, greys left out."""

    centre: Hue = parameter(
        ..., "Degrees of Oklab hue or a Munsell hue such as 5YR.", unit="degrees"
    )
    width: float = parameter(
        60.0, "Full width at half weight.", unit="degrees", minimum=5, maximum=180
    )


def weight(parameters: HueWindow, degrees: np.ndarray) -> np.ndarray:
    """Weight at hues, float64 in 0..1, periodic: whole for half of the width, then falling.

    >>> window = HueWindow(centre=90.0, width=60.0)
    >>> weight(window, np.array([90.0, 105.0, 120.0, 135.0])).round(6).tolist()
    [1.0, 1.0, 0.5, 0.0]
    """
    distance = np.abs((degrees - parameters.centre + 180) % 360 - 180) / parameters.width
    rise = np.clip(1.5 - 2 * distance, 0, 1)
    return rise * rise * (3 - 2 * rise)


def mask(parameters: HueWindow, ground: Ground) -> Mask:
    """The mask of a window on the circle of hue."""
    table = weight(parameters, kernels.diamond.diamond_degrees(TABLE_SIZE)).astype(np.float32)
    return lambda region, light: kernels.mask.hue(light[1], light[2], table, GREY_CHROMA)


SHAPE = Shape("hue", HueWindow, mask, ("smooth_light", "hue"), "light")
