"""From camera RGB to the working light, by the matrices a raw file carries.

The model is that of the Digital Negative specification (version 1.7, chapter "Mapping Camera
Color Space to CIE XYZ Space"): one to three matrices from XYZ to camera RGB, measured under
known lights and interpolated between them. Under bluer light than that of the bluer of two
calibrations, where the specification keeps that one, they are extrapolated.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.colour.adaptation import cat16
from grading.colour.spaces import D65, WORKING, xy_to_uv, xy_to_xyz, xyz_to_rgb, xyz_to_xy
from grading.colour.white import DUV_LIMIT, kelvin_duv_to_xy, kelvin_to_mired, nearest_kelvin

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from grading.colour.calibration import Calibration, Camera

_D50 = np.array([0.3457, 0.3585])
_FULL_PASSES, _PASSES, _SETTLED = 60, 400, 1e-7

LAMP_TOLERANCE = 0.006
"""How far from its nominal chromaticity a lamp may lie, in CIE 1960 (u, v): the tolerance of
Duv in ANSI C78.377 (from memory)."""

EXTRAPOLATED = 0.85
"""Share of the way in reciprocal kelvin beyond two calibrations that their change goes on. Chosen,
like `ADAPTING`, on simulated cameras (`tests/truth/simulated.py`), and judged on measured ones."""

ADAPTING = 330.0
"""Mireds from a calibration at which camera RGB alone would adapt to the light."""

UNLIKE = 4.0
"""From where two calibrations that see one light in other ratios of channels are taken for wrong,
and nothing is extrapolated from them (own rule; those of measured cameras stay below 1.2)."""


def _inverse(matrix):
    if not np.all(np.isfinite(matrix)) or np.linalg.cond(matrix) > 1e6:
        raise ValueError(f"camera matrix {np.asarray(matrix).tolist()} cannot be inverted")
    return np.linalg.inv(matrix)


def calibration_weights(calibrations: Sequence[Calibration], xy: ArrayLike) -> tuple[float, ...]:
    """Share of each calibration in the matrix for a light.

    Parameters
    ----------
    calibrations : sequence of Calibration
        One, two or three, as in :class:`grading.colour.calibration.Camera`.
    xy : array_like, shape (2,)
        CIE 1931 chromaticity of the light.

    Returns
    -------
    tuple of float
        As many, of sum 1.

    Notes
    -----
    Two are interpolated in reciprocal kelvin, and beyond their lights the nearer one counts, as
    the Digital Negative specification demands; `xyz_to_camera` carries the bluer one on. For a
    third, which it means for the very light of the picture, it demands nothing. Here the third
    counts for its own light: its share falls from 1 by a normal curve, whose deviation is the
    tolerance of lamps or, if less, a third of the way to the nearer of the other lights. The
    two share the rest as if they were alone.
    """
    return (1.0,) if len(calibrations) == 1 else _shares(calibrations, xy, nearest_kelvin(xy))


def _shares(calibrations, xy, kelvin):
    """Shares of two calibrations or three for a light whose nearest kelvin are known."""
    low, high, *third = calibrations
    share = min(max(_way(low, high, kelvin), 0.0), 1.0)
    if not third:
        return 1 - share, share
    own = xy_to_uv(third[0].xy)
    others, light = xy_to_uv([low.xy, high.xy]), xy_to_uv(xy)
    deviation = min(LAMP_TOLERANCE, np.hypot(*(others - own).T).min() / 3)
    peak = float(np.exp(-(((light - own) / deviation) ** 2).sum() / 2))
    return (1 - peak) * (1 - share), (1 - peak) * share, peak


def _way(low, high, kelvin):
    """Way of a light from one calibration (0) to the other (1), in reciprocal kelvin."""
    return float((1 / kelvin - 1 / low.kelvin) / (1 / high.kelvin - 1 / low.kelvin))


def nearness(xy: ArrayLike) -> float:
    """How near a light is to the Planckian locus.

    Parameters
    ----------
    xy : array_like, shape (2,)
        CIE 1931 chromaticity of the light.

    Returns
    -------
    float
        1 on the locus between 1000 and 100000 K, 0 from a distance of `DUV_LIMIT` on, and
        smooth between.

    Raises
    ------
    ValueError
        If the chromaticity is not that of a light.

    Examples
    --------
    A light with half of the largest Duv, and the green of a phosphor:

    >>> round(nearness(kelvin_duv_to_xy(5000, 0.025)), 4), nearness((0.3, 0.6))
    (0.75, 0.0)
    """
    return _nearness(xy, nearest_kelvin(xy))


def _nearness(xy, kelvin):
    offset = xy_to_uv(xy) - xy_to_uv(kelvin_duv_to_xy(kelvin, 0.0))
    return max(1 - float(offset @ offset) / DUV_LIMIT**2, 0.0)


def xyz_to_camera(camera: Camera, xy: ArrayLike) -> np.ndarray:
    """Matrix from CIE 1931 XYZ to camera RGB under a light.

    Parameters
    ----------
    camera : Camera
    xy : array_like, shape (2,)
        CIE 1931 chromaticity of the light.

    Returns
    -------
    ndarray, shape (3, 3), float64
        Interpolated between the calibrations, see :func:`calibration_weights`, and extrapolated
        under light that is bluer than the bluer of two.

    Notes
    -----
    Bluer light is that of the sky, at dusk above all, and the change from a lamp's matrix to
    that of daylight goes on towards it, less so the less the light is like daylight (own rule,
    see `EXTRAPOLATED`). What a neutral surface
    looks like is extrapolated by ratios, so that it stays above 0. The rest is extrapolated
    in the middle of two readings of a matrix, which differ in how colours adapt to the light:
    with XYZ, as it stands, or with camera RGB.
    """
    matrices = [np.asarray(c.xyz_to_camera, dtype=np.float64) for c in camera.calibrations]
    weights = (1.0,)
    if len(matrices) > 1:
        xy = np.asarray(xy, dtype=np.float64)
        kelvin = nearest_kelvin(xy)
        weights = _shares(camera.calibrations, xy, kelvin)
        matrices[1] = _carried_on(camera.calibrations, matrices, xy, kelvin)
    return sum(weight * matrix for weight, matrix in zip(weights, matrices, strict=True))


def _carried_on(calibrations, matrices, xy, kelvin):
    """The bluer of two matrices, for a light that may be bluer than its own."""
    low, high = calibrations[:2]
    near = _nearness(xy, kelvin)
    beyond = EXTRAPOLATED * near * min(_way(low, high, kelvin) - 1, 1.0)
    if beyond <= 0:
        return matrices[1]
    own = [xy_to_xyz(kelvin_duv_to_xy(c.kelvin) if c.xy is None else c.xy) for c in (low, high)]
    light = xy_to_xyz(xy)
    seen = np.stack([matrix @ np.stack([own[1], light], axis=1) for matrix in matrices[:2]])
    if seen.min() <= 0:
        return matrices[1]
    ratios = seen[1] / seen[0]
    if np.any(ratios.max(axis=0) > UNLIKE * ratios.min(axis=0)):
        return matrices[1]
    distance = kelvin_to_mired(high.kelvin) - kelvin_to_mired(kelvin)
    share = near * min(float(distance) / ADAPTING, 1.0)
    first, last = (
        _partly_adapted(matrix, white, light, share)
        for matrix, white in zip(matrices[:2], own, strict=True)
    )
    neutral = seen[1, :, 1] * ratios[:, 0] ** beyond
    return neutral[:, None] * (last + beyond * (last - first))


def _partly_adapted(matrix, own, light, share):
    """From XYZ under a light to camera RGB, white 1: a share adapts with camera RGB."""
    as_it_stands = matrix / (matrix @ light)[:, None]
    balanced = matrix / (matrix @ own)[:, None] @ cat16(light, own)
    return (1 - share) * as_it_stands + share * balanced


def neutral_to_xy(camera: Camera, neutral: ArrayLike) -> np.ndarray:
    """Chromaticity of the light that makes a neutral surface look as given to the camera.

    Parameters
    ----------
    camera : Camera
    neutral : array_like, shape (3,)
        Camera RGB of the surface, all above 0; its scale does not matter.

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
    The matrix depends on the light that is looked for, so it is found by iteration as in the
    Digital Negative specification: from D50, or from the light of a third calibration, which
    is meant for that of the picture. A step against the one before goes half-way, and steps
    that do not settle become short, so that it also ends where full steps would oscillate.
    """
    neutral = np.asarray(neutral, dtype=np.float64)
    if not np.all(neutral > 0) or not np.all(np.isfinite(neutral)):
        raise ValueError(f"camera neutral {neutral.tolist()} must be above 0 in all channels")
    xy = camera.calibrations[2].xy if len(camera.calibrations) == 3 else _D50
    last = np.zeros(2)
    for number in range(_PASSES):
        xyz = _inverse(xyz_to_camera(camera, xy)) @ (neutral / neutral.max())
        if xyz[1] <= 0 or xyz.min() < -xyz[1]:
            raise ValueError(f"camera neutral {neutral.tolist()} is not the colour of a light")
        move = xyz_to_xy(xyz) - xy
        step = move if move @ last >= 0 else move / 2
        xy = xy + (step if number < _FULL_PASSES else step / 10)
        if np.abs(move).max() < 1e-10:
            break
        last = move
    if np.abs(move).max() > _SETTLED:
        raise ValueError(f"camera neutral {neutral.tolist()} is not the colour of a light")
    return xy


def xy_to_neutral(camera: Camera, xy: ArrayLike) -> np.ndarray:
    """Camera RGB of a neutral surface under a light.

    Parameters
    ----------
    camera : Camera
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
    neutral = xyz_to_camera(camera, xy) @ xy_to_xyz(xy)
    if not np.all(neutral > 0):
        raise ValueError(f"light at {np.asarray(xy).tolist()} is out of the camera's range")
    return neutral / neutral.max()


def camera_to_working(camera: Camera, xy: ArrayLike) -> np.ndarray:
    """Matrix from camera RGB under a light to the working light.

    Parameters
    ----------
    camera : Camera
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
    to_xyz = _inverse(xyz_to_camera(camera, xy))
    matrix = xyz_to_rgb(WORKING) @ cat16(xy_to_xyz(xy), xy_to_xyz(D65)) @ to_xyz
    return matrix / (matrix @ (neutral / neutral[1]))[:, None]
