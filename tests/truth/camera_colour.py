"""What comes out of a raw file, beside what the spectra in front of the camera say."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

import imagecodecs
import numpy as np

from dng import mosaic_of, write_dng
from grading.colour.adaptation import cat16
from grading.colour.difference import delta_e_2000
from grading.colour.spaces import xyz_to_xy
from grading.colour.white import xy_to_kelvin_duv
from grading.engine.execute import render
from grading.engine.output import Output
from grading.files.originals import open_frame
from grading.shoot.deliver import encode
from truth import spectra
from truth.pictures import recipe, xyz_of

PATCH, GAP = 24, 16
BLOCK = 8
"""Rows of a JPEG block; the ground's outermost are far enough from the patches."""

GREY = 0.18
BLACK, SATURATION = 1024, 65535
NEUTRAL = [0.03, 0.5]
"""A place on the grey ground of the chart, as fractions of its size."""


class Truth(NamedTuple):
    """Errors in CIEDE2000 under one light; `stated` is with the light's true kelvin and Duv.

    `least` is the mean that the best of all matrices reaches, fitted on the judged patches
    themselves, `calibrated` that of a matrix calibrated under this light on other surfaces.
    """

    camera: int
    light: str
    kelvin: float
    duv: float
    least: float
    calibrated: float
    as_shot_mean: float
    as_shot_worst: float
    stated_mean: float
    stated_worst: float
    stated_grey: float


class Grey(NamedTuple):
    """CIEDE2000 of a grey from neutral, in files of 16 and of 8 bit."""

    camera: int
    light: str
    as_shot_16: float
    as_shot_8: float
    sampled_16: float
    sampled_8: float
    worst_step: int
    """Largest difference of 16-bit codes between as shot, sampled, and stated in numbers."""


def _chart(patches, ground):
    """Patches on a ground, 4 rows of 6, shape (rows, columns, 3)."""
    pitch = PATCH + GAP
    chart = np.tile(ground, (4 * pitch + GAP, 6 * pitch + GAP, 1))
    for place, patch in zip(_places(), patches, strict=True):
        chart[place] = patch
    return chart


def _places(margin=0):
    pitch, inner = PATCH + GAP, PATCH - 2 * margin
    for i in range(24):
        top, left = GAP + i // 6 * pitch + margin, GAP + i % 6 * pitch + margin
        yield np.s_[top : top + inner, left : left + inner]


@cache
def chart_frame(number, name, third=None):
    """A raw file of the test patches on grey, opened; and the stops that bring white to 1.

    Its matrices are calibrated under A and D65, and under `third` where that names a light.
    """
    power = spectra.light(name)
    patches = spectra.seen_by_camera(spectra.judged_patches(), power, number)
    white = spectra.neutral(power, number)
    share = 0.9 / patches.max()
    mosaic = mosaic_of(_chart(patches, GREY * white) * share)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "chart.dng"
        write_dng(
            path,
            np.round(BLACK + mosaic * (SATURATION - BLACK)),
            white=SATURATION,
            black=(BLACK,) * 4,
            color_matrix1=spectra.colour_matrix(number, "A"),
            illuminant1="A",
            color_matrix2=spectra.colour_matrix(number, "D65"),
            illuminant2="D65",
            color_matrix3=third and spectra.colour_matrix(number, third),
            illuminant3=third and tuple(_xy(third)),
            as_shot_neutral=white / white.max(),
        )
        return open_frame(path), -float(np.log2(share))


def developed(number, name, file_format="tiff", third=None, **balance):
    """The chart after nothing but white balance and exposure."""
    frame, stops = chart_frame(number, name, third)
    look = recipe(white_balance=balance, exposure={"stops": stops})
    space = "bt2020" if file_format == "tiff" else "srgb"
    return render(frame, look, Output(file_format, space), workers=1)


def true_light(name):
    """Correlated colour temperature and Duv of a light, from its spectrum."""
    kelvin, duv = xy_to_kelvin_duv(_xy(name))
    return float(kelvin), float(duv)


def _xy(name):
    return xyz_to_xy(spectra.white_xyz(spectra.light(name)))


def _errors(picture, name):
    xyz = xyz_of(picture.array, picture.output.space)
    means = np.array([xyz[place].mean(axis=(0, 1)) for place in _places(margin=6)])
    aim = spectra.true_lab(spectra.judged_patches(), spectra.light(name))
    return delta_e_2000(spectra.to_lab(means), aim)


def cast(codes, space):
    """CIEDE2000 of the ground, in the mean, from the grey of its own lightness."""
    lab = spectra.to_lab(xyz_of(codes[:BLOCK], space).mean(axis=(0, 1)))
    return float(delta_e_2000(lab, lab * (1, 0, 0)))


@cache
def measure_truth(number, name, third=None):
    """The colours of the chart as developed, beside those of the spectra."""
    power, surfaces = spectra.light(name), spectra.judged_patches()
    kelvin, duv = true_light(name)
    as_shot = developed(number, name, third=third, as_shot=True)
    stated = developed(number, name, third=third, kelvin=kelvin, duv=duv)
    to_xyz = np.linalg.inv(spectra.colour_matrix(number, name))
    found = spectra.seen_by_camera(surfaces, power, number) @ to_xyz.T
    calibrated = spectra.to_lab(found @ cat16(spectra.white_xyz(power), spectra.WHITE).T)
    errors, stated_errors = _errors(as_shot, name), _errors(stated, name)
    return Truth(
        camera=number,
        light=name,
        kelvin=kelvin,
        duv=duv,
        least=spectra.least_error(number, name),
        calibrated=float(delta_e_2000(calibrated, spectra.true_lab(surfaces, power)).mean()),
        as_shot_mean=float(errors.mean()),
        as_shot_worst=float(errors.max()),
        stated_mean=float(stated_errors.mean()),
        stated_worst=float(stated_errors.max()),
        stated_grey=cast(stated.array, "bt2020"),
    )


def excess(number, third):
    """Largest excess over the least mean with a third calibration, as shot and stated."""
    lights = (*spectra.DAYLIGHTS, "A", third)
    truths = [measure_truth(number, name, third) for name in lights]
    as_shot = max(truth.as_shot_mean - truth.least for truth in truths)
    return as_shot, max(truth.stated_mean - truth.least for truth in truths)


def _as_jpeg(picture):
    return imagecodecs.jpeg8_decode(encode(picture, None))


@cache
def measure_grey(number, name, third=None):
    """A grey under a light, balanced in each of the three ways, in files of 16 and 8 bit."""
    as_shot = developed(number, name, third=third, as_shot=True)
    sampled = developed(number, name, third=third, neutral=NEUTRAL)
    used = as_shot.resolved.stages["white_balance"]
    numbers = developed(number, name, third=third, kelvin=used.kelvin, duv=used.duv)
    codes = [picture.array.astype(int) for picture in (as_shot, sampled, numbers)]
    jpegs = [
        _as_jpeg(developed(number, name, "jpeg", third, **balance))
        for balance in ({"as_shot": True}, {"neutral": NEUTRAL})
    ]
    return Grey(
        camera=number,
        light=name,
        as_shot_16=cast(as_shot.array, "bt2020"),
        as_shot_8=cast(jpegs[0], "srgb"),
        sampled_16=cast(sampled.array, "bt2020"),
        sampled_8=cast(jpegs[1], "srgb"),
        worst_step=int(max(np.abs(one - codes[0]).max() for one in codes[1:])),
    )
