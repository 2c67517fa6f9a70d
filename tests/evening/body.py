"""A camera of a simulated evening: what it sees, how it is used, and the files it writes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PIL import Image

from camera import BLACK, PATTERN, WHITE, Sensor
from dng import EXIF_TAGS, write_dng
from grading.colour import spaces
from grading.colour.calibration import Calibration, Camera
from grading.colour.camera import camera_to_working
from grading.colour.transfer import encode
from light import OBSERVER, daylight_spectrum

MINUTES = 45.0
LIGHTS = 4000, 6504
"""Kelvin of the lights that its matrices are of."""


@dataclass(frozen=True)
class Body:
    """A camera of the evening, and how it is used.

    Attributes
    ----------
    model : str
    first : int
        Number of its first file.
    honest : float
        Stops by which it records more than its ISO speed says.
    focals : tuple of float
        Focal lengths that it goes to and fro between.
    span : tuple of float
        From which minute to which it is used.
    aim : tuple of float
        Row and column of the panorama that it looks at, from the middle.
    bias : float
        Stops by which its user exposes more than the meter says.
    shifted, mixed : float
        By how many steps of 5 nm, and by which share of its neighbours' light, its colours differ.
    guess : float
        Mired by which it takes the white for warmer than it is.
    rendered : bool
        Whether it writes JPEG with a tone curve of its own.
    """

    model: str = "Estuary One"
    first: int = 3107
    honest: float = 0.0
    focals: tuple[float, float] = (35, 50)
    span: tuple[float, float] = (0.0, MINUTES)
    aim: tuple[float, float] = (0.0, 0.0)
    bias: float = 0.0
    shifted: int = 0
    mixed: float = 0.0
    guess: float = 0.0
    rendered: bool = False

    def sensor(self) -> Sensor:
        """What it sees of spectra."""
        sensor = Sensor()
        seen = np.roll(sensor.sensitivities, self.shifted, axis=0)
        seen = seen @ (np.eye(3) * (1 - self.mixed) + self.mixed / 3)
        sensor.sensitivities = seen / (daylight_spectrum(6504) @ seen[:, 1])
        return sensor


def write_picture(path, exposed, body, guessed, exif, rng):
    """A JPEG of a tone curve with contrast, brighter than a raw, its white taken as guessed."""
    to_working = camera_to_working(_camera(body.sensor()), _xy(1e6 / guessed))
    noisy = exposed * rng.normal(1, 0.02, exposed.shape) @ to_working.T
    light = noisy @ spaces.rgb_to_rgb(spaces.WORKING, spaces.SPACES["srgb"]).T
    codes = encode("srgb", developed(light))
    block = Image.Exif()
    block[271], block[272] = "Invented", body.model
    block.get_ifd(34665).update({EXIF_TAGS[name][0]: value for name, value in exif.items()})
    picture = Image.fromarray(np.rint(255 * codes).astype(np.uint8))
    picture.save(path, quality=92, exif=block)


def developed(exposed):
    """The tone curve of a picture that a camera makes itself, linear light to linear light."""
    light = np.clip(1.6 * exposed, 1e-6, None)
    return np.clip(light / (light + 0.25) * 1.25, 0, 1) ** 1.2


def write_raw(path, mosaic, body, guess, exif):
    """A DNG with the matrices of both lights, and what was taken for neutral."""
    sensor = body.sensor()
    matrices = [sensor.color_matrix(daylight_spectrum(kelvin)) for kelvin in LIGHTS]
    write_dng(
        path, mosaic, white=WHITE, black=(BLACK,) * 4, pattern=PATTERN,
        color_matrix1=matrices[0], illuminant1=_xy(4000), color_matrix2=matrices[1],
        illuminant2="D65", as_shot_neutral=guess / guess.max(), model=body.model, exif=exif,
    )  # fmt: skip


def _camera(sensor):
    """The camera as its raw files would state it."""
    return Camera(tuple(
        Calibration(kelvin, sensor.color_matrix(daylight_spectrum(kelvin)))
        for kelvin in LIGHTS
    ), np.ones(3))  # fmt: skip


def _xy(kelvin):
    xyz = daylight_spectrum(kelvin) @ OBSERVER
    return tuple(xyz[:2] / xyz.sum())
