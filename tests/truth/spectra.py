"""Lights, surfaces, the standard observer and two measured cameras, all as spectra.

The data are those that colour-science carries. Everything is sampled at 380 to 780 nm by 5 nm.
"""

from functools import cache

import colour
import numpy as np
from colour.quality.cfi2017 import load_TCS_CIE2017
from scipy.optimize import least_squares, minimize

from grading.colour.adaptation import cat16
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import D65, xy_to_xyz, xyz_to_xy
from grading.colour.white import xy_to_kelvin_duv
from light import OBSERVER, SHAPE, daylight_spectrum

WHITE = xy_to_xyz(D65)
DAYLIGHTS = ("D65", "D50", "7500 K")
LEDS = ("LED-B1", "LED-B2", "LED-B3", "LED-B4", "LED-B5", "LED-BH1", "LED-RGB1", "LED-V1", "LED-V2")
LIGHTS = (*DAYLIGHTS, "A", *LEDS)
"""CIE 015 illuminants; 7500 K is a phase of daylight, the LEDs are those of CIE 015:2018."""

THIRD = "LED-B3"
"""Light of a third calibration: the middle one of the five LEDs of one kind, LED-B1 to B5."""

ALIKE = ("thermal", "LED-V2")
"""Lights beside `THIRD` in chromaticity: a thermal one of the same temperature, and an LED."""

CAMERAS = (1, 2)

UNSEEN = ("CIE 224:2017", "averages")
"""Surfaces that no matrix was fitted on: the 99 of the colour fidelity index, and the averages of
many specimens of a chart of 24 patches."""

CANDLE = 1900.0
"""Kelvin of the flame of a candle (common practice, no source)."""

SUN = 5600.0
"""Kelvin of a thermal spectrum near that of sunlight at the ground, for `light`'s skies."""


def _values(spectrum):
    edges = {"method": "Constant", "left": 0, "right": 0}
    return spectrum.copy().align(SHAPE, extrapolator_kwargs=edges).values


def _reflectances(name):
    chart = colour.SDS_COLOURCHECKERS[name].values()
    return np.array([patch.copy().align(SHAPE).values for patch in chart])


@cache
def judged_patches():
    """Reflectances of the 24 patches that are judged, shape (24, 81)."""
    return _reflectances("ISO 17321-1")


@cache
def calibration_patches():
    """Reflectances of 30 other surfaces, on which camera matrices are fitted, shape (30, 81)."""
    return _reflectances("PMC")


@cache
def unseen_patches(name):
    """Reflectances of a set of `UNSEEN`, shape (n, 81)."""
    if name == "averages":
        return _reflectances("BabelColor Average")
    return load_TCS_CIE2017(SHAPE).values.T


def _sky(name):
    """Sunlight scattered once by air, as wavelength to the -3 with some haze; in the evening
    through ozone, whose band about 600 nm takes a fifth (shapes and sizes from memory)."""
    wavelengths = np.arange(380.0, 781.0, 5.0)
    blue = _values(colour.sd_blackbody(SUN, SHAPE)) * (wavelengths / 560) ** -3
    ozone = 0.22 * np.exp(-(((wavelengths - 600) / 45) ** 2))
    return blue * np.exp(-ozone) if name == "evening sky" else blue


@cache
def photographed_patches():
    """Reflectances of the 24 patches that are photographed to calibrate on, shape (24, 81).

    The average of 30 charts made before November 2014.
    """
    return _reflectances("BabelColor Average")


@cache
def light(name):
    """Spectral power of a light, shape (81,)."""
    if name.endswith(" K"):
        return daylight_spectrum(float(name[:-2]))
    if name.endswith("sky"):
        return _sky(name)
    if name == "candle":
        return _values(colour.sd_blackbody(CANDLE, SHAPE))
    if name == "thermal":
        kelvin, _ = xy_to_kelvin_duv(xyz_to_xy(white_xyz(light(THIRD))))
        return _values(colour.sd_blackbody(kelvin, SHAPE))
    known = colour.SDS_ILLUMINANTS if name in colour.SDS_ILLUMINANTS else colour.SDS_LIGHT_SOURCES
    return _values(known[name])


@cache
def sensitivities(number):
    """Spectral sensitivities of a measured camera, shape (81, 3)."""
    measured = list(colour.MSDS_CAMERA_SENSITIVITIES.values())[number - 1]
    return np.clip(_values(measured), 0, None)


def seen_by_eye(reflectances, power):
    """CIE 1931 XYZ of surfaces under a light, Y of a perfect white 1; shape (n, 3)."""
    return (reflectances * power) @ OBSERVER / (power @ OBSERVER[:, 1])


def seen_by_camera(reflectances, power, number):
    """Camera RGB of surfaces under a light, green of a perfect white 1; shape (n, 3)."""
    response = sensitivities(number)
    return (reflectances * power) @ response / (power @ response[:, 1])


def white_xyz(power):
    """XYZ of a perfect white."""
    return seen_by_eye(np.ones(len(power)), power)


def neutral(power, number):
    """Camera RGB of a perfect white, green 1."""
    return seen_by_camera(np.ones(len(power)), power, number)


def true_lab(reflectances, power):
    """L*a*b* of surfaces under a light, adapted to D65 by CAT16; shape (n, 3)."""
    return to_lab(seen_by_eye(reflectances, power) @ cat16(white_xyz(power), WHITE).T)


def to_lab(xyz):
    """CIE 1976 L*a*b* relative to D65."""
    return xyz_to_lab(xyz, WHITE)


@cache
def colour_matrix(number, name):
    """XYZ to camera RGB as a maker would calibrate it under one light, shape (3, 3)."""
    return fitted_matrix(sensitivities(number), light(name))


def fitted_matrix(response, power):
    """XYZ to camera RGB of sensitivities (81, 3) under a light, shape (3, 3).

    Least squares of CIEDE2000 on `calibration_patches`, holding white exactly.
    """
    surfaces = calibration_patches()
    white = power @ response / (power @ response[:, 1])
    balanced = (surfaces * power) @ response / (power @ response[:, 1]) / white
    adaptation = cat16(white_xyz(power), WHITE)
    adapted = seen_by_eye(surfaces, power) @ adaptation.T

    def to_xyz(free):
        columns = free.reshape(3, 2)
        return np.column_stack([columns, WHITE - columns.sum(axis=1)])

    def errors(free):
        return delta_e_2000(to_lab(balanced @ to_xyz(free).T), to_lab(adapted))

    first, second, third = balanced.T[:, :, None]
    differences = np.hstack([first - third, second - third])
    start = np.linalg.lstsq(differences, adapted - third * WHITE, rcond=None)[0].T
    fitted = to_xyz(least_squares(errors, start.ravel()).x)
    return white[:, None] * np.linalg.inv(fitted) @ adaptation


@cache
def least_error(number, name):
    """Least mean CIEDE2000 that a matrix can reach on `judged_patches`, fitted on these very ones.

    The mean is smoothed where it has kinks (at differences of 0), less from round to round.
    """
    power, surfaces = light(name), judged_patches()
    camera, aim = seen_by_camera(surfaces, power, number), true_lab(surfaces, power)

    def errors(matrices):
        xyz = camera @ matrices.reshape(-1, 3, 3).swapaxes(1, 2)
        return delta_e_2000(to_lab(xyz), aim)

    def smoothed(matrix, kink):
        steps = 1e-6 * np.vstack([np.zeros(9), np.eye(9)])
        means = np.sqrt(errors(matrix + steps) ** 2 + kink**2).mean(axis=1)
        return means[0], (means[1:] - means[0]) / 1e-6

    adapted = seen_by_eye(surfaces, power) @ cat16(white_xyz(power), WHITE).T
    matrix = np.linalg.lstsq(camera, adapted, rcond=None)[0].T.ravel()
    for kink in (1.0, 0.3, 0.1, 0.03, 0.01, 0.003):
        matrix = minimize(smoothed, matrix, args=(kink,), jac=True, method="BFGS").x
    return float(errors(matrix).mean())
