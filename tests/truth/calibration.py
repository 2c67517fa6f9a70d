"""Cameras calibrated on photographs of a chart, judged on surfaces that the chart does not have.

The chart's patches are spectra (the average of 30 charts made before November 2014), while the fit
knows only the colours that are published for such charts. Judged are the 99 surfaces of CIE
224:2017. What is aimed at are their colours by day, under D50, whatever the light is.
"""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np
from colour.quality.cfi2017 import load_TCS_CIE2017
from scipy.optimize import least_squares

from calibrate.photographs import Photograph, Pose, write_raw
from grading.calibrate.chart import reference
from grading.calibrate.light import calibrate
from grading.colour.adaptation import cat16
from grading.colour.camera import camera_to_working, neutral_to_xy
from grading.colour.difference import delta_e_2000
from grading.colour.spaces import WORKING, rgb_to_xyz
from grading.files.originals import open_frame
from grading.frame import Calibration, Camera
from truth import spectra

EDITION = "before-2014"
LIGHTS = ("D50", "A", *spectra.LEDS)
POSES = (Pose(turn=6, tilt=(12, -9)), Pose((0.45, 0.34), 0.42, turn=188, tilt=(-20, 14)))


class Calibrated(NamedTuple):
    """Mean CIEDE2000 of the judged surfaces, and of the chart as the fit reports it.

    `before`: by the file's matrices for A and D65; `after`: by the chart; `own`: by a matrix
    calibrated under the very light, without a photograph, on 30 other surfaces of known spectra.
    All are balanced on the camera's own white.
    """

    before: float
    after: float
    own: float
    chart_before: float
    chart_after: float


@cache
def judged():
    """Reflectances of 99 surfaces, shape (99, 81)."""
    return np.asarray(load_TCS_CIE2017(spectra.SHAPE).values).T


def by_day(reflectances):
    """XYZ under D50, adapted to D65."""
    power = spectra.light("D50")
    adaptation = cat16(spectra.white_xyz(power), spectra.WHITE)
    return spectra.seen_by_eye(reflectances, power) @ adaptation.T


def file_matrices(number):
    """What the maker puts in the file, by the names of the illuminants."""
    return {name: spectra.colour_matrix(number, name) for name in ("A", "D65")}


@cache
def photographed(number, name, pose, seed):
    """A raw file of the chart under a light, opened: tilted, vignetted, noisy, a little blurred."""
    power = spectra.light(name)
    white = spectra.neutral(power, number)
    patches = spectra.seen_by_camera(spectra.photographed_patches(), power, number)
    shot = Photograph(
        POSES[pose], (480, 720), white=0.9 / white.max(), fall=0.06, vignetting=0.05, flare=0.004,
        blur=0.6, noise=3e-5, ground="busy", seed=seed,
    )  # fmt: skip
    with TemporaryDirectory() as folder:
        path = Path(folder) / "chart.dng"
        write_raw(path, shot.of(patches / white, white, samples=2), white, file_matrices(number))
        return open_frame(path)


@cache
def calibrated(number, name, pose, seed):
    """What `grading calibrate` measures in that photograph."""
    return calibrate(photographed(number, name, pose, seed), reference(EDITION))


def shown(number, name, calibrations):
    """L*a*b* of the judged surfaces by some calibrations, balanced on the camera's white."""
    power = spectra.light(name)
    white = spectra.neutral(power, number)
    camera = Camera(calibrations, white / white.max())
    matrix = rgb_to_xyz(WORKING) @ camera_to_working(camera, neutral_to_xy(camera, white))
    return spectra.to_lab(spectra.seen_by_camera(judged(), power, number) @ matrix.T)


def by_file(number, name):
    """The same by the matrices of the file."""
    pair = file_matrices(number)
    stated = Calibration(2856.0, pair["A"]), Calibration(6504.0, pair["D65"])
    return shown(number, name, stated)


def by_chart(number, name, pose=0, seed=0):
    """The same by the chart."""
    light = calibrated(number, name, pose, seed)
    return shown(number, name, (Calibration(light.kelvin, light.matrix),))


@cache
def by_own(number, name):
    """The same by a matrix for the very light, fitted to `spectra.calibration_patches`."""
    power, surfaces = spectra.light(name), spectra.calibration_patches()
    white, aim = spectra.neutral(power, number), by_day(surfaces)
    seen = spectra.seen_by_camera(surfaces, power, number) / white

    def to_xyz(free):
        columns = free.reshape(3, 2)
        return np.column_stack([columns, spectra.WHITE - columns.sum(axis=1)])

    def errors(free):
        return delta_e_2000(spectra.to_lab(seen @ to_xyz(free).T), spectra.to_lab(aim))

    differences = seen[:, :2] - seen[:, 2:]
    start = np.linalg.lstsq(differences, aim - seen[:, 2:] * spectra.WHITE, rcond=None)[0].T
    matrix = to_xyz(least_squares(errors, start.ravel()).x)
    return spectra.to_lab(spectra.seen_by_camera(judged(), power, number) / white @ matrix.T)


@cache
def measure_calibration(number, name, pose=0, seed=0):
    """How a chart under a light serves for surfaces that are not on it."""
    aim = spectra.to_lab(by_day(judged()))
    light = calibrated(number, name, pose, seed)
    means = [
        float(delta_e_2000(lab, aim).mean())
        for lab in (by_file(number, name), by_chart(number, name, pose, seed), by_own(number, name))
    ]
    return Calibrated(*means, light.before.errors.mean(), light.after.errors.mean())


def disagreement(name):
    """Mean CIEDE2000 between the two cameras under a light, by their files and by the chart."""
    return tuple(
        float(delta_e_2000(way(1, name), way(2, name)).mean()) for way in (by_file, by_chart)
    )
