"""What the channels of a raw file mean: camera matrices, the as-shot neutral, their number."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np

from grading.colour.camera import xy_to_neutral
from grading.colour.spaces import D65, WORKING, xyz_to_rgb
from grading.errors import OriginalError
from grading.files import dngtags
from grading.frame import Calibration, Camera

_LEAST_NEUTRAL = 1 / 32


class Colours(NamedTuple):
    """The channels of a sensor.

    Attributes
    ----------
    neutral : ndarray, shape (n,), float64
        What they read of a neutral surface under the as-shot light, largest 1.
    reduction : ndarray, shape (3, n), or None
        To the three of the frame; None if they are these.
    """

    neutral: np.ndarray
    reduction: np.ndarray | None


def read_colours(raw, main):
    """How a raw file's camera sees.

    Parameters
    ----------
    raw : rawpy.RawPy
    main : dict
        The main directory of the file.

    Returns
    -------
    camera : grading.frame.Camera or None
        Of three channels; None for a monochrome sensor, which sees no colour.
    colours : Colours
    warnings : list of str

    Raises
    ------
    OriginalError
        If a matrix or the neutral is impossible, or there are too many colours.
    """
    if raw.num_colors == 1:
        return None, Colours(np.ones(1), np.ones((3, 1))), []
    camera, warnings = _read_camera(raw, main)
    if raw.num_colors == 3:
        return camera, Colours(camera.neutral, None), warnings
    reduction = _reduction(camera)
    reduced = Camera(
        tuple(replace(c, xyz_to_camera=reduction @ c.xyz_to_camera) for c in camera.calibrations),
        checked_neutral(reduction @ camera.neutral),
    )
    return reduced, Colours(camera.neutral, reduction), warnings


def _reduction(camera):
    """Four channels to three, which are the working space's under the bluest calibration light.

    The least-squares way through the matrix: DNG 1.4, chapter 6, for cameras of more than three
    colours. The green of a neutral surface at the white level is 1.
    """
    bluest = max(camera.calibrations, key=lambda calibration: calibration.kelvin)
    reduction = xyz_to_rgb(WORKING) @ np.linalg.pinv(bluest.xyz_to_camera)
    return reduction / (reduction @ camera.neutral)[1]


def _read_camera(raw, main):
    """The camera's calibrations and as-shot neutral, with warnings."""
    calibrations = dngtags.calibrations(main, raw.num_colors)
    if not calibrations:
        matrix = dngtags.checked_matrix(raw.rgb_xyz_matrix[: raw.num_colors])
        calibrations = (Calibration(dngtags.LIGHT_SOURCES[21], matrix),)
    neutral = _stated_neutral(raw, main)
    if neutral is not None:
        return Camera(calibrations, checked_neutral(neutral, raw.num_colors)), []
    white, warnings = dngtags.as_shot_white(main), []
    if white is None:
        white = D65
        warnings = ["the file states no as-shot white balance; daylight (D65) is assumed"]
    try:
        neutral = xy_to_neutral(Camera(calibrations, np.ones(3)), white)
    except ValueError as error:
        raise OriginalError(
            f"the camera matrix does not fit the light ({error})",
            remedy="convert the file to DNG with a sound ColorMatrix1",
        ) from None
    return Camera(calibrations, checked_neutral(neutral, raw.num_colors)), warnings


def _stated_neutral(raw, main):
    """The neutral of the file, or ``None``; LibRaw gives 0 or -1 for a balance not stated."""
    if dngtags.is_dng(main):
        return dngtags.as_shot_neutral(main)
    gains = np.array(raw.camera_whitebalance[: raw.num_colors])
    return 1 / gains if (gains > 0).all() else None


def checked_neutral(neutral, channels=3):
    """A neutral scaled to largest channel 1, if a light can look like that.

    Raises
    ------
    OriginalError
        If it has not as many channels, all finite and at least 1/32 of the largest (common
        practice, no source: lamps and cameras stay above 1/8).
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    sound = neutral.shape == (channels,) and np.isfinite(neutral).all() and neutral.max() > 0
    if not sound or neutral.min() < _LEAST_NEUTRAL * neutral.max():
        raise OriginalError(
            f"impossible as-shot white balance: a neutral of {neutral.tolist()} in camera light",
            allowed=f"{channels} positive numbers, none below 1/32 of the largest",
            remedy="convert the file again; its AsShotNeutral is wrong",
        )
    return neutral / neutral.max()
