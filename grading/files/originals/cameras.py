"""How a raw file's camera sees: its matrices and the as-shot neutral."""

import numpy as np

from grading.colour.camera import xy_to_neutral
from grading.colour.far import neutral_to_kelvin_duv, warn_of_white
from grading.colour.spaces import D65
from grading.develop.channels import MONOCHROME, checked_neutral, in_three_channels
from grading.errors import OriginalError
from grading.files.metadata import dngtags
from grading.frame import Calibration, Camera


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
        return None, MONOCHROME, []
    camera, warnings = _read_camera(raw, main)
    camera, colours = in_three_channels(camera)
    light = neutral_to_kelvin_duv(camera, camera.neutral)
    return camera, colours, warnings + warn_of_white(camera, light, "the as-shot white")


def _read_camera(raw, main):
    """The camera's calibrations and as-shot neutral, with warnings."""
    calibrations = dngtags.calibrations(main, raw.num_colors)
    if not calibrations:
        matrix = dngtags.checked_matrix(raw.rgb_xyz_matrix[: raw.num_colors])
        calibrations = (Calibration(dngtags.LIGHT_SOURCES[21], matrix),)
    neutral = _stated_neutral(raw, main)
    if neutral is not None:
        return Camera(calibrations, checked_neutral(neutral, raw.num_colors)), []
    white, warnings = D65, []
    if dngtags.AS_SHOT_WHITE in main:
        white = main[dngtags.AS_SHOT_WHITE].numbers
    else:
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
        stated = main.get(dngtags.AS_SHOT_NEUTRAL)
        return stated and stated.numbers
    gains = np.array(raw.camera_whitebalance[: raw.num_colors])
    return 1 / gains if (gains > 0).all() else None
