"""The channels of a sensor, and how four of them become three."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from grading.colour.spaces import WORKING, xyz_to_rgb
from grading.errors import OriginalError
from grading.frame import Camera

_LEAST_NEUTRAL = 1 / 32
"""Least share of the largest channel with which a mosaic is balanced while it is developed (common
practice, no source: under most lamps cameras stay above 1/8)."""


class Colours(NamedTuple):
    """The channels of a sensor.

    Attributes
    ----------
    neutral : ndarray, shape (n,), float64
        What they read of a neutral surface under the as-shot light, largest 1, none below 1/32.
    reduction : ndarray, shape (3, n), or None
        To the three of the frame; None if they are these.
    """

    neutral: np.ndarray
    reduction: np.ndarray | None


MONOCHROME = Colours(np.ones(1), np.ones((3, 1)))


def in_three_channels(camera):
    """A camera as the frame has it, and what its sensor's own channels are.

    Four channels become three, which are the working space's under the bluest calibration light.
    The least-squares way through the matrix: DNG 1.4, chapter 6, for cameras of more than three
    colours. The green of a neutral surface at the white level is 1.

    Parameters
    ----------
    camera : Camera
        Of three channels or of four.

    Returns
    -------
    Camera
        Of three channels.
    Colours
    """
    if len(camera.neutral) == 3:
        return camera, Colours(np.maximum(camera.neutral, _LEAST_NEUTRAL), None)
    bluest = max(camera.calibrations, key=lambda calibration: calibration.kelvin)
    reduction = xyz_to_rgb(WORKING) @ np.linalg.pinv(bluest.xyz_to_camera)
    reduction /= (reduction @ camera.neutral)[1]
    reduced = Camera(
        tuple(replace(c, xyz_to_camera=reduction @ c.xyz_to_camera) for c in camera.calibrations),
        checked_neutral(reduction @ camera.neutral),
    )
    return reduced, Colours(np.maximum(camera.neutral, _LEAST_NEUTRAL), reduction)


def checked_neutral(neutral, channels=3):
    """A neutral scaled to largest channel 1, if a light can look like that.

    Raises
    ------
    OriginalError
        If it has not as many channels, all finite and above 0.
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    if neutral.shape != (channels,) or not np.isfinite(neutral).all() or neutral.min() <= 0:
        raise OriginalError(
            f"impossible as-shot white balance: a neutral of {neutral.tolist()} in camera light",
            allowed=f"{channels} positive numbers",
            remedy="convert the file again; its AsShotNeutral is wrong",
        )
    return neutral / neutral.max()
