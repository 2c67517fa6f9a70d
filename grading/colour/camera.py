"""From camera RGB to the working light, by the matrices a raw file carries.

The model is that of the Digital Negative specification (version 1.7, chapter "Mapping Camera
Color Space to CIE XYZ Space"): one or two matrices from XYZ to camera RGB, measured under
known lights and interpolated in reciprocal temperature between them.
"""

import numpy as np

from grading.colour.adaptation import cat16
from grading.colour.spaces import D65, WORKING, xy_to_xyz, xyz_to_rgb, xyz_to_xy
from grading.colour.white import nearest_kelvin

_D50 = np.array([0.3457, 0.3585])
_PASSES = 60


def _inverse(matrix):
    if not np.all(np.isfinite(matrix)) or np.linalg.cond(matrix) > 1e6:
        raise ValueError(f"camera matrix {np.asarray(matrix).tolist()} cannot be inverted")
    return np.linalg.inv(matrix)


def xyz_to_camera(camera, kelvin):
    """Matrix from CIE 1931 XYZ to camera RGB under a light.

    Parameters
    ----------
    camera : grading.frame.Camera
    kelvin : float
        Correlated colour temperature of the light.

    Returns
    -------
    ndarray, shape (3, 3), float64
        Interpolated in reciprocal kelvin; beyond the calibration lights, the nearer one's.
    """
    low, high = camera.calibrations[0], camera.calibrations[-1]
    if low.kelvin == high.kelvin:
        return np.asarray(low.xyz_to_camera, dtype=np.float64)
    share = (1 / kelvin - 1 / low.kelvin) / (1 / high.kelvin - 1 / low.kelvin)
    share = min(max(float(share), 0.0), 1.0)
    return (1 - share) * np.asarray(low.xyz_to_camera) + share * np.asarray(high.xyz_to_camera)


def neutral_to_xy(camera, neutral):
    """Chromaticity of the light that makes a neutral surface look as given to the camera.

    Parameters
    ----------
    camera : grading.frame.Camera
    neutral : array_like, shape (3,)
        Camera RGB of the surface, all above 0; its scale is of no account.

    Returns
    -------
    ndarray, shape (2,), float64
        CIE 1931 x, y.

    Raises
    ------
    ValueError
        If no light looks like that to the camera, or a matrix cannot be inverted.

    Notes
    -----
    The matrix depends on the light that is sought, so it is found by iteration from D50 as
    in the Digital Negative specification. A step against the one before goes half-way, so
    that it also settles where full steps would swing to and fro.
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    if not np.all(neutral > 0) or not np.all(np.isfinite(neutral)):
        raise ValueError(f"camera neutral {neutral.tolist()} must be above 0 in all channels")
    xy, last = _D50, np.zeros(2)
    for _ in range(_PASSES):
        xyz = _inverse(xyz_to_camera(camera, nearest_kelvin(xy))) @ (neutral / neutral.max())
        if xyz[1] <= 0 or xyz.min() < -xyz[1]:
            raise ValueError(f"camera neutral {neutral.tolist()} is not the colour of a light")
        move = xyz_to_xy(xyz) - xy
        xy = xy + (move if move @ last >= 0 else move / 2)
        if np.abs(move).max() < 1e-10:
            break
        last = move
    return xy


def xy_to_neutral(camera, xy):
    """Camera RGB of a neutral surface under a light.

    Parameters
    ----------
    camera : grading.frame.Camera
    xy : array_like, shape (2,)
        CIE 1931 chromaticity of the light.

    Returns
    -------
    ndarray, shape (3,), float64
        Largest channel 1.

    Raises
    ------
    ValueError
        If the light is out of the camera's range, so that a channel is not above 0.
    """
    neutral = xyz_to_camera(camera, nearest_kelvin(xy)) @ xy_to_xyz(xy)
    if not np.all(neutral > 0):
        raise ValueError(f"light at {np.asarray(xy).tolist()} is out of the camera's range")
    return neutral / neutral.max()


def camera_to_working(camera, xy):
    """Matrix from camera RGB under a light to the working light.

    Parameters
    ----------
    camera : grading.frame.Camera
    xy : array_like, shape (2,)
        CIE 1931 chromaticity of the light.

    Returns
    -------
    ndarray, shape (3, 3), float64
        To linear ITU-R BT.2020, D65. A neutral surface becomes neutral, and one whose green
        channel is 1 becomes 1. Colours are adapted from the light to D65 by CAT16.

    Raises
    ------
    ValueError
        If the light is out of the camera's range, or a matrix cannot be inverted.
    """
    neutral = xy_to_neutral(camera, xy)
    to_xyz = _inverse(xyz_to_camera(camera, nearest_kelvin(xy)))
    matrix = xyz_to_rgb(WORKING) @ cat16(xy_to_xyz(xy), xy_to_xyz(D65)) @ to_xyz
    return matrix / (matrix @ (neutral / neutral[1]))[:, None]
