"""Lights far from those that cameras are calibrated under: candles, sodium, deep dusk, stage lamps.

Whatever a camera saw as neutral can be made neutral. How far the other colours can be trusted is
another matter, and said in a warning.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.colour.camera import camera_to_working, nearness, neutral_to_xy, xy_to_neutral
from grading.colour.white import DUV_LIMIT, kelvin_duv_to_xy, xy_to_kelvin_duv

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from grading.colour.calibration import Camera

TRUSTED = (2000.0, 25000.0)
"""Kelvin within which the matrices of cameras say enough (common practice, no source)."""

_WORDS = "grey comes out neutral, but other colours may be off, strong ones most"


def neutral_to_kelvin_duv(camera: Camera, neutral: ArrayLike) -> tuple[float, float] | None:
    """Light that makes a neutral surface look as given to the camera, if it has a temperature.

    Parameters
    ----------
    camera : Camera
    neutral : array_like, shape (3,)
        Camera RGB of the surface, all above 0; its scale does not matter.

    Returns
    -------
    (float, float) or None
        Correlated colour temperature and Duv.
    """
    try:
        kelvin, duv = xy_to_kelvin_duv(neutral_to_xy(camera, neutral))
    except ValueError:
        return None
    return float(kelvin), float(duv)


def neutral_to_working(camera: Camera, neutral: ArrayLike) -> np.ndarray:
    """Matrix from camera RGB to the working light for any neutral, also that of no known light.

    Parameters
    ----------
    camera : Camera
    neutral : array_like, shape (3,)
        Camera RGB of a neutral surface, all above 0; its scale does not matter.

    Returns
    -------
    ndarray, shape (3, 3), float64
        To linear ITU-R BT.2020, D65: `camera_to_working` of the neutral's light where that is
        near the Planckian locus. Else that of the calibration whose neutral is nearest, as the
        ratios of channels go, with gains for the channels. The neutral becomes neutral, and one
        whose green channel is 1 becomes 1.

    Raises
    ------
    ValueError
        If the camera cannot see the lights of its own calibrations.
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    try:
        xy = neutral_to_xy(camera, neutral)
        if nearness(xy) > 0:
            return camera_to_working(camera, xy)
    except ValueError:
        pass
    own = [c.xy if c.xy is not None else kelvin_duv_to_xy(c.kelvin) for c in camera.calibrations]
    ratios = [xy_to_neutral(camera, xy) / neutral for xy in own]
    nearest = min(range(len(own)), key=lambda i: np.ptp(np.log(ratios[i])))
    gains = ratios[nearest] / ratios[nearest][1]
    return camera_to_working(camera, own[nearest]) * gains


def warn_of_white(camera: Camera, light: tuple[float, float] | None, name: str) -> list[str]:
    """What a white far from the calibrations of a camera means for the picture.

    Parameters
    ----------
    camera : Camera
    light : (float, float) or None
        Correlated colour temperature and Duv; None for a white without.
    name : str
        What to call it: ``the as-shot white``.

    Returns
    -------
    list of str
        A sentence for a person, or none.
    """
    own = " and ".join(f"{c.kelvin:.0f} K" for c in camera.calibrations)
    if light is None:
        return [
            f"{name} is that of no light with a colour temperature (Duv beyond {DUV_LIMIT:g}), "
            f"such as a strongly coloured lamp: {_WORDS}"
        ]
    if TRUSTED[0] <= light[0] <= TRUSTED[1]:
        return []
    return [
        f"{name}, {light[0]:.0f} K, is far from the lights that the camera is calibrated under "
        f"({own}): {_WORDS}"
    ]
