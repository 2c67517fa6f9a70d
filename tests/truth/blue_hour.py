"""Light bluer than a raw file's calibrations, and what becomes of colours under it.

Run as ``PYTHONPATH=tests:demo_images python -m truth.blue_hour``, this prints the table of the
page: each number beside what it was when the bluer matrix counted as it stood.
"""

from functools import cache
from typing import NamedTuple

import numpy as np

from grading.colour.camera import camera_to_working, neutral_to_xy
from grading.colour.difference import delta_e_2000
from grading.colour.spaces import WORKING, rgb_to_xyz, xyz_to_xy
from grading.frame import Calibration, Camera
from truth import spectra

DAYLIGHTS = ("7500 K", "9000 K", "12000 K", "16000 K", "20000 K")
"""Phases of daylight, CIE 015."""

SKIES = ("sky", "evening sky")
"""Sunlight scattered by air; and the same through ozone, which the light of a low sun crosses."""

LAMPS = ("FL1", "FL5", "Daylight FL", "F40/C75 (Broadband FL)", "Phosphor LED YAG")
"""Fluorescent lamps and an LED that both cameras read as bluer than D65."""

LIGHTS = (*DAYLIGHTS, *SKIES, *LAMPS)


class Blue(NamedTuple):
    """Mean CIEDE2000 of one set of surfaces, as shot, and the cast of a grey.

    `calibrated` is with a matrix fitted under the very light, `before` with the bluer of the
    two as it stands, `now` as the engine does. The casts are of a grey balanced by the light's
    true chromaticity.
    """

    calibrated: float
    before: float
    now: float
    cast_before: float
    cast_now: float


def calibrated(number, *names):
    """A camera with matrices for some lights."""
    calibrations = []
    for name in names:
        xy = xyz_to_xy(spectra.white_xyz(spectra.light(name)))
        kelvin = {"A": 2856.0, "D65": 6504.0}.get(name, 6504.0)
        calibrations.append(Calibration(kelvin, spectra.colour_matrix(number, name), xy))
    return Camera(tuple(calibrations), np.ones(3))


def _error(number, name, surfaces, matrix):
    """Mean difference of surfaces developed by a matrix to the working light."""
    power = spectra.light(name)
    found = spectra.seen_by_camera(surfaces, power, number) @ matrix.T
    lab = spectra.to_lab(found @ rgb_to_xyz(WORKING).T)
    return float(delta_e_2000(lab, spectra.true_lab(surfaces, power)).mean())


def _cast(number, name, matrix):
    """How far from neutral a grey of 18 % comes out."""
    xyz = rgb_to_xyz(WORKING) @ matrix @ spectra.neutral(spectra.light(name), number)
    lab = spectra.to_lab(0.18 * xyz / xyz[1])
    return float(delta_e_2000(lab, lab * (1, 0, 0)))


@cache
def measure(number, name, surfaces):
    """A camera calibrated under A and D65 sees a set of `spectra.UNSEEN` under a light."""
    patches = spectra.unseen_patches(surfaces)
    power = spectra.light(name)
    xy = xyz_to_xy(spectra.white_xyz(power))
    errors, casts = [], []
    for names in ((name,), ("D65",), ("A", "D65")):
        camera = calibrated(number, *names)
        shot = neutral_to_xy(camera, spectra.neutral(power, number))
        errors.append(_error(number, name, patches, camera_to_working(camera, shot)))
        casts.append(_cast(number, name, camera_to_working(camera, xy)))
    return Blue(*errors, *casts[1:])


def rows():
    """Light, camera, and for each set of surfaces what the matrix of the very light reaches and
    how much more it was and is; then the casts of daylight that is stated."""
    for number in spectra.CAMERAS:
        for name in LIGHTS:
            sets = [measure(number, name, each) for each in spectra.UNSEEN]
            row = [name, number]
            for blue in sets:
                more = (blue.before - blue.calibrated, blue.now - blue.calibrated)
                row += [f"{blue.calibrated:.2f}", *(f"{each:+.2f}" for each in more)]
            stated = name not in LAMPS
            casts = (sets[0].cast_before, sets[0].cast_now) if stated else ()
            yield (*row, *(f"{cast:.2f}" for cast in casts), *([""] * (0 if stated else 2)))


if __name__ == "__main__":
    for row in rows():
        print(*(str(each).ljust(24 if i == 0 else 6) for i, each in enumerate(row)))
