"""Generate the demo set: eight raw frames of an invented harbour town as the light falls.

    python demo_images/make_demo.py [--out DIR] [--only N]

Everything is simulated: daylight and lamps as spectra, reflectances, the camera's
sensitivities, its meter, its automatic white balance, and the noise of its sensor. Beside the
frames stands ``harbour_truth.yaml`` with what a test may want to know of each frame.
"""

import argparse
import warnings
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import yaml

warnings.filterwarnings("ignore", message='.*"Matplotlib" related API features.*')

from camera import (  # noqa: E402
    BLACK,
    PATTERN,
    WHITE,
    Sensor,
    Settings,
    automatic_neutral,
    metered,
    record,
)
from dng import write_dng  # noqa: E402
from light import blackbody_spectrum, daylight_spectrum, evening  # noqa: E402
from scene import paint, shaken  # noqa: E402
from view import FOCAL_LENGTH, View  # noqa: E402

WIDTH, HEIGHT = 1536, 1024
START = datetime(2025, 9, 14, 18, 52, 8)
OFFSET = "+01:00"
SPEEDS = (2000, 1600, 1250, 1000, 800, 640, 500, 400, 320, 250, 200, 160, 125, 100, 80, 60, 50,
          40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4)  # of the shutter, in parts of a second
PLACE = (49.2, -12.4)  # open sea, far from any coast


@dataclass(frozen=True)
class Shot:
    """What the photographer and the boat did for one frame.

    ``error`` is by how many stops the frame is lighter than the meter asked for; the shutter
    follows from it. ``blur`` is the length of the shake in pixels.
    """

    minutes: float
    aperture: float
    iso: int
    error: float
    x: float
    z: float
    roll: float
    pan: float = 0.0
    tilt: float = 0.0
    blur: float = 0.0


SHOTS = (
    Shot(0, 8.0, 100, -0.4, x=-5.0, z=-6.0, roll=0.3),
    Shot(8, 8.0, 100, 0.1, x=-4.0, z=-3.5, roll=-1.4, pan=0.006),
    Shot(15, 5.6, 200, -0.6, x=-2.6, z=-1.0, roll=0.8, pan=-0.008, tilt=0.006),
    Shot(22, 5.6, 200, 0.5, x=-1.0, z=1.0, roll=2.3, tilt=-0.005),
    Shot(29, 4.0, 400, 2.0, x=0.4, z=3.5, roll=-0.6, pan=0.010),
    Shot(36, 4.0, 800, -0.1, x=1.6, z=5.5, roll=1.1, pan=-0.004, blur=15.0),
    Shot(43, 2.8, 1600, -0.55, x=2.8, z=8.0, roll=-2.8, tilt=0.008),
    Shot(50, 2.8, 3200, 0.1, x=4.0, z=10.0, roll=0.5, pan=0.004),
)


def make_frame(number, out, width=WIDTH, height=HEIGHT):
    """Paint, expose and write frame `number` (from 1).

    Returns
    -------
    dict
        The truth about the frame, plain values only.
    """
    shot, sensor = SHOTS[number - 1], Sensor()
    rng = np.random.default_rng(1000 + number)
    light = evening(shot.minutes, sensor)
    view = View(width, height, x=shot.x, z=shot.z, pan=shot.pan, tilt=shot.tilt, roll=shot.roll)
    picture = paint(view, light, seed=number)
    if shot.blur:
        picture = shaken(picture, shot.blur * width / WIDTH, rng)
    ideal = 0.127 / metered(picture)
    settings = nearest_settings(shot, ideal)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"harbour_{number:02d}.dng"
    neutral = automatic_neutral(light, sensor, rng)
    write_frame(path, record(picture, settings, rng), shot, settings, sensor, neutral)
    return {
        "file": path.name,
        "ambient_kelvin": round(light.kelvin),
        "ambient_duv": round(light.duv, 5),
        "ambient_luminance": round(light.ambient, 3),
        "exposure_offset_stops": round(float(np.log2(settings.exposure / ideal)), 3),
        "noise_alpha": round(settings.gain, 5),
        "read_noise": round(settings.read_noise, 4),
        "roll_degrees": shot.roll,
        "shaken": bool(shot.blur),
        "over_exposed": shot.error > 1,
    }


def write_frame(path, mosaic, shot, settings, sensor, neutral):
    """Write one exposure with the facts that the camera states."""
    write_dng(
        path,
        mosaic,
        pattern=PATTERN,
        black=(BLACK,) * 4,
        white=WHITE,
        color_matrix1=sensor.color_matrix(blackbody_spectrum(2856)).round(4),
        illuminant1="A",
        color_matrix2=sensor.color_matrix(daylight_spectrum(6504)).round(4),
        illuminant2="D65",
        as_shot_neutral=neutral.round(6),
        make="Invented",
        model="Field One",
        exif=capture_facts(shot, settings),
        gps=(PLACE[0] + shot.z * 9e-6, PLACE[1] + shot.x * 1.4e-5),
        compression="ljpeg",
    )


def nearest_settings(shot, ideal):
    """The shot's settings, with the shutter time that lands nearest to its error."""
    wanted = ideal * 2**shot.error / Settings(1.0, shot.aperture, shot.iso).exposure
    speed = min(SPEEDS, key=lambda speed: abs(np.log2(wanted * speed)))
    return Settings(1 / speed, shot.aperture, shot.iso)


def capture_facts(shot, settings):
    """EXIF tags of one shot."""
    taken = (START + timedelta(minutes=shot.minutes)).strftime("%Y:%m:%d %H:%M:%S")
    return {
        "ExposureTime": Fraction(1, round(1 / settings.shutter)),
        "FNumber": settings.aperture,
        "ExposureProgram": 1,
        "ISOSpeedRatings": settings.iso,
        "DateTimeOriginal": taken,
        "DateTimeDigitized": taken,
        "OffsetTimeOriginal": OFFSET,
        "FocalLength": FOCAL_LENGTH,
        "FocalLengthIn35mmFilm": int(FOCAL_LENGTH),
        "LensModel": "Invented 35 mm f/2",
    }


def main():
    """Command line."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--out", type=Path, default=Path(__file__).parent)
    parser.add_argument("--only", type=int, choices=range(1, len(SHOTS) + 1), metavar="N",
                        help="write frame N alone, and no truth file")
    options = parser.parse_args()
    if options.only:
        print(make_frame(options.only, options.out))
        return
    with ProcessPoolExecutor(2) as pool:
        numbers = range(1, len(SHOTS) + 1)
        truth = list(pool.map(make_frame, numbers, [options.out] * len(numbers)))
    (options.out / "harbour_truth.yaml").write_text(yaml.safe_dump(truth, sort_keys=False))


if __name__ == "__main__":
    main()
