"""An evening simulated with its truth: the mouth of a river, seen from a boat at anchor.

Another place than the demo's harbour. A panorama of reflectances (spectra, by the basis of Mallett
and Yuksel) and of the sky's and the water's light is painted once; each of forty frames looks at a
part of it, turned and moved a little, through one of two lenses that darken their corners. The
light falls by seven stops in three quarters of an hour and cools; a cloud passes, a bright boat
crosses, lamps are lit. The camera meters badly, rounds what it says of its settings, lets its
shutter slip, and guesses another white for every frame.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from camera import Settings, record
from evening.body import MINUTES, Body, developed, write_picture, write_raw
from light import daylight_spectrum

FRAMES = 40
HEIGHT, WIDTH = 400, 600
START = datetime(2026, 4, 18, 19, 41, 20)
PANORAMA = (900, 1500)
NOMINAL = (8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000, 800, 640, 500, 400, 320,
           250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4)  # fmt: skip
SPEEDS = {100: 100, 125: 125, 160: 160, 200: 200, 250: 250, 320: 320, 400: 400, 500: 500, 640: 640,
          800: 800, 1000: 1000, 1250: 1250, 1600: 1600}  # fmt: skip
PLACES = {"sky": (290, 760), "far shore": (388, 700), "water": (530, 790), "foreground": (633, 720)}
"""Row and column on the panorama of places that stay where they are."""


@dataclass(frozen=True)
class Shot:
    """The truth about a frame: see `make_evening`."""

    path: Path
    minutes: float
    light: float
    mired: float
    neutral: np.ndarray = field(repr=False)
    placing: tuple = field(repr=False)
    offset: float = 0.0
    guessed: float = 0.0

    def where(self, place: str) -> tuple[int, int]:
        """Row and column of a place of the panorama in this frame."""
        row, column = PLACES[place]
        scale, angle, dy, dx = self.placing
        y, x = (row - PANORAMA[0] / 2 - dy) / scale, (column - PANORAMA[1] / 2 - dx) / scale
        u = x * np.cos(angle) - y * np.sin(angle) + (WIDTH - 1) / 2
        v = x * np.sin(angle) + y * np.cos(angle) + (HEIGHT - 1) / 2
        return round(float(v)), round(float(u))


def fall_of_light(minutes):
    """Stops of ambient light from the first frame on: slowly, then faster, then slowly."""
    t = np.asarray(minutes) / MINUTES
    return -7.2 * (0.25 * t + 0.75 * t * t * (1.9 - 0.9 * t))


def cloud(minutes):
    """Stops that a cloud takes away for four frames or so."""
    return -0.7 * np.clip(1 - np.abs((np.asarray(minutes) - 19.5) / 2.6) ** 3, 0, 1)


def mired_of_light(minutes):
    """Reciprocal colour temperature of the ambient light."""
    t = np.asarray(minutes) / MINUTES
    return 1e6 / 5300 - 100 * t * t * (2 - t)


class Panorama:
    """What there is to be seen, for any light."""

    def __init__(self, seed):
        rng = np.random.default_rng(seed)
        rows, columns = PANORAMA
        y, x = np.mgrid[:rows, :columns].astype(np.float32)
        ridge = 330 + 40 * np.sin(x / 210) + 18 * np.sin(x / 67 + 1) + 6 * np.sin(x / 19)
        self.sky = y < ridge
        hills = (y >= ridge) & (y < 372)
        shore = (y >= 372) & (y < 405)
        self.water = (y >= 405) & (y < 590 + 0.03 * x)
        stones = ~(self.sky | hills | shore | self.water)
        weights = np.zeros((rows, columns, 3), np.float32)
        weights[hills] = 0.045, 0.07, 0.05
        weights[shore] = 0.20, 0.17, 0.13
        weights[stones] = 0.23, 0.22, 0.20
        for _ in range(60):  # houses and boats on the shore
            left, width = rng.integers(0, columns - 40), rng.integers(8, 30)
            top, shade = rng.integers(372, 392), rng.uniform(0.5, 3.0)
            weights[top:403, left : left + width] *= shade * rng.uniform(0.8, 1.2, 3)
        for _ in range(900):  # stones
            cy, cx, r = rng.integers(600, rows), rng.integers(0, columns), rng.integers(4, 16)
            box = np.s_[max(cy - r, 0) : cy + r, max(cx - r, 0) : cx + r]
            round_ = ((y[box] - cy) ** 2 + (x[box] - cx) ** 2 < r * r) & stones[box]
            weights[box][round_] *= rng.uniform(0.6, 1.5)
        grain = rng.normal(0, 0.06, (rows // 2, columns // 2)).astype(np.float32)
        weights *= np.exp(np.kron(grain, np.ones((2, 2), np.float32)))[..., None]
        self.weights = np.clip(weights, 0, 0.95)
        self.glow = np.clip(1 - np.abs(y - 330) / 330, 0, 1) ** 2
        self.x, self.y = x, y

    def light(self, minutes, sensor, rng):
        """Camera RGB in cd/m2 of the whole panorama, shape (rows, columns, 3)."""
        ambient = 900 * 2.0 ** (fall_of_light(minutes) + cloud(minutes))
        kelvin = 1e6 / mired_of_light(minutes)
        spectrum = daylight_spectrum(kelvin)
        picture = self.weights @ (sensor.seen_under(spectrum).T * np.float32(ambient))
        dome = sensor.response(daylight_spectrum(1e6 / (mired_of_light(minutes) - 18)))
        warm = sensor.response(daylight_spectrum(1e6 / (mired_of_light(minutes) + 50)))
        sky = 0.55 * dome + (0.5 * self.glow[..., None]) * warm
        picture = np.where(self.sky[..., None], sky * ambient, picture)
        waves = rng.normal(0, 0.25, (PANORAMA[0] // 3, PANORAMA[1] // 6)).astype(np.float32)
        waves = np.kron(waves, np.ones((3, 6), np.float32))
        ripple = 0.30 * np.exp(waves)[..., None] * (dome + 0.25 * warm)
        picture = np.where(self.water[..., None], ripple * ambient, picture)
        boat = 60 + 35 * minutes
        hull = (np.abs(self.y - 470) < 18) & (np.abs(self.x - boat) < 60)
        picture[hull] = sensor.response(spectrum) * ambient * 0.85
        if minutes > 26:
            lamp = sensor.response(daylight_spectrum(4000)) * np.array([1.35, 1.0, 0.6])
            for column in range(180, 1400, 150):
                spot = (np.abs(self.y - 380) < 3) & (np.abs(self.x - column) < 3)
                picture[spot] = lamp * 900
        return picture.astype(np.float32)


def make_evening(folder, seed=1, slip=0.03, frames=FRAMES, body=None):
    """DNGs in a folder, and the truth about each.

    Parameters
    ----------
    folder : Path
    seed : int
    frames : int
        How many.
    slip : float
        Deviation in stops of what no dial tells.
    body : Body, optional
        The camera; several in one folder see one scene if their seeds are the same.

    Returns
    -------
    list of Shot
        ``light`` is the true log2 of the ambient light as green sees it, ``offset`` what settings,
        slip and an ISO speed that is not honest add to it in the file.
    """
    body = body or Body()
    rng = np.random.default_rng(seed if body == Body() else (seed, body.first))
    sensor, scene = body.sensor(), Panorama(seed)
    step = (body.span[1] - body.span[0]) / frames
    times = np.linspace(*body.span, frames) + rng.uniform(-0.35, 0.35, frames) * min(step, 1)
    times = np.sort(times)
    over = set(rng.choice(np.arange(3, frames - 3), 3, replace=False).tolist())
    under = set(rng.choice([n for n in range(3, frames - 3) if n not in over], 2, replace=False))
    error, shots = 0.0, []
    for number, minutes in enumerate(times):
        focal = body.focals[0 if (number // 5) % 2 == 0 or rng.random() < 0.15 else 1]
        placing = (
            1.45 * 35 / focal, np.radians(rng.normal(0, 1.2)),
            body.aim[0] + rng.normal(0, 14), body.aim[1] + rng.normal(0, 22),
        )  # fmt: skip
        picture = _seen(scene.light(minutes, sensor, rng), placing)
        picture *= _corners(0.42 if focal == body.focals[0] else 0.18)[..., None]
        if rng.random() < 0.5:
            error = float(np.clip(error + rng.normal(0, 0.45), -0.65, 0.65))
        wanted = error + (2.4 if number in over else -3.2 if number in under else 0)
        settings, stated = _settings(picture, wanted + body.bias, rng)
        slipped = rng.normal(0, slip) + body.honest
        picture *= np.float32(2**slipped)
        mosaic = None if body.rendered else record(picture, settings, rng)
        mired = mired_of_light(minutes)
        guessed = mired + body.guess + rng.normal(0, 11)
        guess = sensor.response(daylight_spectrum(1e6 / guessed))
        guess = guess * np.array([1, 1 + rng.normal(0, 0.012), 1])
        when = START + timedelta(minutes=float(minutes))
        exif = {
            "ExposureTime": stated[0], "FNumber": stated[1], "ISOSpeedRatings": stated[2],
            "FocalLength": focal, "LensModel": "Invented zoom",
            "DateTimeOriginal": f"{when:%Y:%m:%d %H:%M:%S}",
        }  # fmt: skip
        path = Path(folder) / f"R{body.first + number:05d}.{'jpg' if body.rendered else 'dng'}"
        if body.rendered:
            write_picture(path, picture * settings.exposure, body, guessed, exif, rng)
        else:
            write_raw(path, mosaic, body, guess, exif)
        neutral = sensor.response(daylight_spectrum(1e6 / mired))
        light = fall_of_light(minutes) + cloud(minutes) + np.log2(neutral[1])
        offset = np.log2(settings.exposure) + slipped
        if body.rendered:
            grey = np.log2(0.2 * 900) + light
            offset = np.log2(developed(2 ** (grey + offset))) - grey
        shots.append(Shot(
            path, float(minutes), float(light), float(mired),
            neutral / neutral[1], placing, float(offset), float(guessed),
        ))  # fmt: skip
    return shots


def _seen(panorama, placing):
    scale, angle, dy, dx = placing
    v, u = np.mgrid[:HEIGHT, :WIDTH].astype(np.float32)
    v, u = v - (HEIGHT - 1) / 2, u - (WIDTH - 1) / 2
    x = scale * (u * np.cos(angle) + v * np.sin(angle)) + dx + PANORAMA[1] / 2
    y = scale * (-u * np.sin(angle) + v * np.cos(angle)) + dy + PANORAMA[0] / 2
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    left = np.clip(left, 0, PANORAMA[1] - 2)
    top = np.clip(top, 0, PANORAMA[0] - 2)
    fx, fy = (x - left)[..., None], (y - top)[..., None]
    above = panorama[top, left] * (1 - fx) + panorama[top, left + 1] * fx
    below = panorama[top + 1, left] * (1 - fx) + panorama[top + 1, left + 1] * fx
    return (above * (1 - fy) + below * fy).astype(np.float32)


def _corners(stops):
    """What a lens lets through, darker by some stops at the corners."""
    v, u = np.mgrid[:HEIGHT, :WIDTH]
    r2 = ((v - (HEIGHT - 1) / 2) ** 2 + (u - (WIDTH - 1) / 2) ** 2) / ((HEIGHT**2 + WIDTH**2) / 4)
    return (2.0 ** (-stops * (0.7 * r2 + 0.3 * r2 * r2))).astype(np.float32)


def _settings(picture, wanted, rng):
    """True settings in thirds, and as the file rounds them."""
    green = picture[..., 1]
    ideal = np.log2(0.127 / np.minimum(green, 8 * np.median(green)).mean()) + wanted
    apertures = {4.0: 2.0 ** (4 / 2), 5.6: 2.0 ** (5 / 2), 2.8: 2.0 ** (3 / 2)}
    for stated, aperture in ((5.6, apertures[5.6]), (4.0, apertures[4.0]), (2.8, apertures[2.8])):
        for third in range(13):
            iso = 100 * 2 ** (third / 3)
            base = Settings(1.0, aperture, iso).exposure
            step = round((ideal - np.log2(base)) * 3)
            if -39 <= step <= -15:
                speed = 2.0 ** (step / 3)
                nominal = min(NOMINAL, key=lambda n: abs(np.log2(n * speed)))
                rounded = min(SPEEDS, key=lambda n: abs(np.log2(n / iso)))
                return Settings(speed, aperture, iso), (1 / nominal, stated, rounded)
    step = -15
    return Settings(2.0 ** (step / 3), apertures[2.8], 1600), (1 / 30, 2.8, 1600)
