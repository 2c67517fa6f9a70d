"""Camera calibration from the tags of a DNG file.

DNG 1.7, "Mapping Camera Color Space to CIE XYZ Space": XYZ to camera is
AnalogBalance x CameraCalibration x ColorMatrix, for one to three calibration illuminants.
"""

import struct

import numpy as np

from grading.colour.observer import spectrum_to_xy
from grading.colour.white import kelvin_duv_to_xy, nearest_kelvin
from grading.errors import OriginalError
from grading.files.metadata.tifftags import UNDEFINED, numbers
from grading.frame import Calibration

DNG_VERSION = 50706
AS_SHOT_NEUTRAL, AS_SHOT_WHITE = 50728, 50729
"""The two ways to state the balance: AsShotNeutral, AsShotWhiteXY."""

_ANALOG_BALANCE = 50727
_COLOR_MATRIX, _CAMERA_CALIBRATION = (50721, 50722, 52531), (50723, 50724, 52530)
_ILLUMINANT, _ILLUMINANT_DATA = (50778, 50779, 52529), (52533, 52534, 52535)
_BLACK_REPEAT, _BLACK_LEVEL, _BLACK_COLUMNS, _BLACK_ROWS = 50713, 50714, 50715, 50716
_PHOTOMETRIC, _CFA, _LINEAR = 262, 32803, 34892
_NOISE_PROFILE = 51041
_CALIBRATION_SIGNATURE, _PROFILE_SIGNATURE = 50931, 50932
_DAYLIGHT, _OTHER = 6504.0, 255

# EXIF LightSource codes (Exif 2.32, 4.6.5, tag 37384) in kelvin. Standard illuminants as CIE 15
# gives them; fluorescent lamps are the middles of the ranges stated there; daylight, flash
# and tungsten are common practice, no source.
LIGHT_SOURCES = {
    1: 5500.0, 2: 4150.0, 3: 2856.0, 4: 5500.0, 9: 5500.0, 10: 6504.0, 11: 7504.0,
    12: 6400.0, 13: 5050.0, 14: 4150.0, 15: 3525.0, 16: 2925.0, 17: 2856.0, 18: 4874.0,
    19: 6774.0, 20: 5503.0, 21: 6504.0, 22: 7504.0, 23: 5003.0, 24: 3200.0,
}  # fmt: skip


def is_dng(main):
    """Whether a main directory is that of a DNG file."""
    return DNG_VERSION in main


def calibrations(main, colours=3):
    """Calibrations of a DNG's main directory.

    Parameters
    ----------
    main : dict
        Main directory (see :mod:`grading.files.metadata.tifftags`).
    colours : int
        Channels of the camera, n; the matrices have the shape (n, 3).

    Returns
    -------
    tuple of Calibration
        None, one, or two in rising order of kelvin; then the third, if its light differs from
        theirs. A light source that is not stated counts as D65.

    Raises
    ------
    OriginalError
        If a matrix is zero, singular or not finite.
    """
    found = []
    for matrix, correction, illuminant, data in zip(
        _COLOR_MATRIX, _CAMERA_CALIBRATION, _ILLUMINANT, _ILLUMINANT_DATA, strict=True
    ):
        if matrix in main:
            to_camera = _matrix(main, matrix, (colours, 3))
            to_camera = _balance(main, colours) @ _correction(main, correction, colours) @ to_camera
            kelvin, xy = _light(main, illuminant, data)
            found.append(Calibration(kelvin, checked_matrix(to_camera), xy))
    pair = sorted(found[:2], key=lambda calibration: calibration.kelvin)
    if len(pair) == 2 and pair[0].kelvin == pair[1].kelvin:
        return tuple(pair[:1])
    third = [c for c in found[2:] if all(np.abs(c.xy - one.xy).max() > 1e-4 for one in pair)]
    return (*pair, *third)


def black_levels(directories):
    """Black levels of a DNG's mosaic, as finely as the file states them.

    Parameters
    ----------
    directories : list of dict
        From `grading.files.metadata.tifftags.read_pictures`.

    Returns
    -------
    levels : ndarray, shape (2, 2), float64
        Of the sites of a 2 x 2 block, from the corner of the active area.
    rows, columns : ndarray, 1-D, float64
        What to add for each row and column of the active area; empty if not stated.

    None is returned if the file is no DNG with a mosaic, or its levels repeat in another way.
    """
    mosaic = next((d for d in pictures(directories) if numbers(d, _PHOTOMETRIC) == [_CFA]), None)
    if mosaic is None:
        return None
    repeat = [int(n) for n in numbers(mosaic, _BLACK_REPEAT)] or [1, 1]
    levels = numbers(mosaic, _BLACK_LEVEL) or [0.0]
    if repeat not in ([1, 1], [1, 2], [2, 1], [2, 2]) or len(levels) != repeat[0] * repeat[1]:
        return None
    pattern = np.broadcast_to(np.reshape(levels, repeat), (2, 2)).copy()
    deltas = (np.array(numbers(mosaic, code)) for code in (_BLACK_ROWS, _BLACK_COLUMNS))
    return pattern, *deltas


def noise_profile(directories):
    """What a DNG states of its noise: of its green, where it states each colour's.

    Parameters
    ----------
    directories : list of dict
        From `grading.files.metadata.tifftags.read_pictures`.

    Returns
    -------
    tuple of float, or None
        Gain and offset, ``variance = gain * signal + offset``, with the signal 0 at black and 1 at
        white (DNG 1.4, NoiseProfile); as they are, whatever they are. None where there are none.
    """
    if not any(is_dng(directory) for directory in directories):
        return None
    for directory in directories:
        stated = numbers(directory, _NOISE_PROFILE)
        if len(stated) in (2, 6, 8):
            return tuple(stated[2:4] or stated)
    return None


def pictures(directories):
    """The directories of a DNG's pixels, as opposed to previews; none of another file.

    A version of zeros makes none: LibRaw then takes the file for something else.
    """
    if not any(any(numbers(directory, DNG_VERSION)) for directory in directories):
        return []
    return [d for d in directories if numbers(d, _PHOTOMETRIC) in ([_CFA], [_LINEAR])]


def checked_matrix(to_camera):
    """The matrix from XYZ to camera RGB, shape (n, 3), if one can be seen through it.

    Raises
    ------
    OriginalError
        If it is zero, singular or not finite.
    """
    to_camera = np.asarray(to_camera, dtype=np.float64)
    if not np.isfinite(to_camera).all() or np.linalg.cond(to_camera) > 1e4:
        raise OriginalError(
            f"the camera matrix is {np.round(to_camera, 4).tolist()}",
            allowed="a finite matrix that can be inverted",
            remedy="convert the file to DNG with a sound ColorMatrix1",
        )
    return to_camera


def _matrix(main, code, shape):
    numbers = main[code].numbers
    if len(numbers) != shape[0] * shape[1]:
        raise OriginalError(
            f"tag {code} (a colour matrix) has {len(numbers)} usable numbers",
            allowed=f"{shape[0] * shape[1]}, for a sensor of {shape[0]} colours",
        )
    return np.reshape(numbers, shape)


def _correction(main, code, colours):
    """CameraCalibration, which counts only if its signature is that of the profile."""
    signatures = [
        main[code].text if code in main else ""
        for code in (_CALIBRATION_SIGNATURE, _PROFILE_SIGNATURE)
    ]
    if code not in main or signatures[0] != signatures[1]:
        return np.eye(colours)
    return _matrix(main, code, (colours, colours))


def _balance(main, colours):
    numbers = main[_ANALOG_BALANCE].numbers if _ANALOG_BALANCE in main else []
    return np.diag(numbers if len(numbers) == colours else np.ones(colours))


def _light(main, illuminant, data):
    """Kelvin and chromaticity of a calibration illuminant."""
    stated = numbers(main, illuminant)
    if stated == [_OTHER] and data in main:
        xy = _stated_xy(main[data])
        if xy is not None:
            return float(nearest_kelvin(xy)), xy
    kelvin = LIGHT_SOURCES.get(int(stated[0]), _DAYLIGHT) if stated else _DAYLIGHT
    return kelvin, kelvin_duv_to_xy(kelvin)


def _stated_xy(tag):
    """The chromaticity of IlluminantData, an x, y or a spectrum; None if it is not sound."""
    if tag.kind != UNDEFINED:
        return None
    try:
        (form,) = struct.unpack_from(tag.order + "H", tag.values)
        if form == 0:
            xy = _ratios(tag, 2, 2)
        elif form == 1:
            (count,) = struct.unpack_from(tag.order + "I", tag.values, 2)
            xy = spectrum_to_xy(*_ratios(tag, 6, 2), _ratios(tag, 22, count))
        else:
            return None
    except (struct.error, ValueError):
        return None
    return xy if xy.min() > 0 and xy.sum() < 1 else None


def _ratios(tag, offset, count):
    """Rationals inside an UNDEFINED value; ValueError if they are not there or over zero."""
    parts = np.frombuffer(tag.values, tag.order + "u4", 2 * count, offset).reshape(-1, 2)
    if not parts[:, 1].all():
        raise ValueError("a denominator is 0")
    return parts[:, 0] / parts[:, 1]
