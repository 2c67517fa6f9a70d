"""Sky, and water whose waves are facets that mirror it.

Slopes of waves have the mean square that Cox and Munk found for a wind (J. Opt. Soc. Am. 44:838,
1954); a facet mirrors as much as Schlick's form of Fresnel's law says (Computer Graphics Forum
13:233, 1994). What is finer than a pixel is a spread of slopes in it.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from lean_frames.camera import course, inside, texture

TILE = 512
BANDS = ((9.0, 0.5), (70.0, 0.3), (500.0, 0.2))
"""Metres of a tile of waves that repeats, and its share of their mean square slope."""


@dataclass(frozen=True)
class Sky:
    """Light of a sky by elevation and azimuth, in radians: 1 at the horizon."""

    up: float
    fall: float
    sun: float
    azimuth: float
    elevation: float
    wide: float

    def light(self, elevation, azimuth):
        """Light; of a place below the horizon that of the horizon."""
        high = np.maximum(elevation, 0)
        glow = np.hypot(azimuth - self.azimuth, high - self.elevation) / self.wide
        return self.up + (1 - self.up) * np.exp(-high / self.fall) + self.sun * np.exp(-glow)


def drawn_sky(rng, camera):
    """A sky of an evening."""
    field = camera.size[1] / camera.focal / 2
    up, fall, sun = rng.uniform(0.15, 1.2), rng.uniform(0.08, 0.5), rng.choice([0, 0.5, 2.0])
    azimuth, elevation = rng.uniform(-1.2, 1.2) * field, rng.uniform(0, 0.25)
    return Sky(up, fall, sun, azimuth, elevation, rng.uniform(0.05, 0.3))


def paint_sky(canvas, sky, rng, clouds=None):
    """Paint a sky with banks of cloud over the whole canvas."""
    focal, rows = canvas.camera.focal, canvas.camera.size[0]
    up = -canvas.t / focal
    light = sky.light(up, canvas.x / focal)
    for _ in range(int(rng.integers(0, 4)) if clouds is None else clouds):
        middle = -rows * rng.uniform(0.02, 0.6)
        tilt = canvas.x * np.tan(np.radians(rng.normal(0, 1.2)))
        lower = middle + tilt + rows * 0.01 * course(rng, canvas.x, rng.uniform(5, 80))
        thick = rows * rng.uniform(0.01, 0.12) * (1 + 0.4 * course(rng, canvas.x, 60))
        soft = rng.uniform(1, 12)
        body = np.clip((lower - canvas.t) / soft + 0.5, 0, 1)
        body *= np.clip((canvas.t - lower + thick) / (3 * soft) + 0.5, 0, 1)
        light = light * 2 ** (rng.uniform(-1.2, 0.6) * body)
    puffs = texture(rng, (128, 128), (3, 7))
    y, x = (np.abs(canvas.t) * 0.2).astype(int) % 128, (canvas.x * 0.1).astype(int) % 128
    canvas.light[:] = light * (1 + 0.02 * puffs[y, x])
    return sky


@cache
def _slopes(seed, band, heading, spread):
    """Slopes toward the camera and to the side of a tile of waves, summed down its rows."""
    rng = np.random.default_rng(seed)
    fy, fx = np.fft.fftfreq(TILE)[:, None] * TILE, np.fft.rfftfreq(TILE)[None] * TILE
    k = np.hypot(fx, fy)
    k[0, 0] = np.inf
    toward = np.abs((fy * np.cos(heading) + fx * np.sin(heading)) / k) ** spread
    amplitude = ((k > 12) & (k < 110)) * (0.1 + toward) * k**-2.0
    waves = np.fft.rfft2(rng.standard_normal((TILE, TILE))) * amplitude
    slope = np.stack([np.fft.irfft2(1j * f * waves, s=(TILE, TILE)) for f in (fy, fx)])
    slope /= np.sqrt(np.square(slope).sum(0).mean())
    sums = np.zeros((2, 2 * TILE + 1, TILE))
    np.cumsum(np.concatenate([slope, slope], 1), axis=1, out=sums[:, 1:])
    return sums, slope.mean(1)


def slopes_seen(canvas, rng, wind, first, heading=0.0, spread=2.0, shift=0.0):
    """Slopes of waves toward the camera and to the side below a row, and the variance of those
    that are finer than a pixel, for each row."""
    camera, t = canvas.camera, canvas.t[first:, 0].astype(float)
    away = camera.focal * camera.height / t
    tall, broad = away**2 / (camera.focal * camera.height), away / camera.focal
    power = 0.003 + 0.00512 * wind
    seen, left = np.zeros((2, t.size, canvas.x.size), np.float32), np.zeros(t.size)
    for band, (metres, share) in enumerate(BANDS):
        sums, whole = _slopes(int(rng.integers(6)), band, round(heading, 2), spread)
        size = np.sqrt(power * share)
        unit = TILE / metres
        starts, x = rng.uniform(0, TILE, 2)
        for row in range(t.size):
            deep = min(tall[row] * unit, 20.0 * TILE)
            if deep > TILE / 8 or broad[row] * unit > TILE / 12:
                left[row] += power * share
                continue
            # over one pixel, half of it either way
            begin = (starts + (away[row] + shift) * unit - deep / 2) % TILE
            places = ((canvas.x[0] * (broad[row] * unit) + x) % TILE).astype(int)
            deep = max(deep, 1.0)
            a, b = int(begin), int(begin + deep)
            a_part, b_part = begin - a, begin + deep - b
            strip = (
                sums[:, b] + b_part * (sums[:, b + 1] - sums[:, b])
                - sums[:, a] - a_part * (sums[:, a + 1] - sums[:, a])
            ) / deep  # fmt: skip
            wide = int(broad[row] * unit)
            if wide > 1:
                ring = np.concatenate([strip, strip[:, :wide]], 1).cumsum(1)
                strip = (ring[:, wide:] - np.concatenate([np.zeros((2, 1)), ring[:, : TILE - 1]], 1)
                         )[:, :TILE] / wide  # fmt: skip
            seen[:, row] += size * strip[:, places]
            left[row] += power * share * max(0.0, 1 - np.square(strip).sum(0).mean())
    return seen, left.astype(np.float32)


def water_light(canvas, sky, rng, wind=4.0, body=0.03, **waves):
    """Light of water that reaches the horizon, of each place below it, and its first row."""
    first = int(np.searchsorted(canvas.t[:, 0], 0.02))
    camera, t = canvas.camera, canvas.t[first:]
    (toward, aside), spread = slopes_seen(canvas, rng, wind, first, **waves)
    grazing = t / camera.focal
    light, total = np.zeros_like(toward), np.zeros_like(toward)
    deviation = np.sqrt(spread / 2)[:, None]
    azimuth = canvas.x / camera.focal
    for off, weight in ((-1.4, 0.25), (0.0, 0.5), (1.4, 0.25)):
        slope = toward + off * deviation
        angle = np.maximum(grazing + slope, 0.003)
        mirrored = 0.02 + 0.98 * (1 - np.minimum(angle, 1)) ** 5
        seen = mirrored * sky.light(2 * slope + grazing, azimuth) + body
        light += weight * angle * seen
        total += weight * angle
    light /= total
    if sky.sun:
        light += 2 * sky.sun * _glitter(sky, grazing, azimuth, toward, aside, spread[:, None])
    return light, first


def _glitter(sky, grazing, azimuth, toward, aside, spread):
    """Share of facets that mirror the sun: one that leans aside turns the light by so much less,
    the flatter it falls on it, which is why the path is narrow."""
    need_y = (sky.elevation + 0.03 - grazing) / 2
    need_x = (sky.azimuth - azimuth) / (sky.elevation + 0.03 + grazing)
    return np.exp(-(np.square(toward - need_y) + np.square(aside - need_x)) / (spread + 0.002))


def paint_water(canvas, sky, rng, wind=4.0, body=0.03, **waves):
    """Paint water from the horizon down."""
    light, first = water_light(canvas, sky, rng, wind, body, **waves)
    if first < canvas.light.shape[0]:
        cover = inside(canvas.t[first:])
        canvas.light[first:] += cover * (light - canvas.light[first:])


def paint_haze(canvas, amount, thick):
    """Air that hides what is far: near the horizon, over some pixels below it."""
    air = amount * np.exp(-np.abs(canvas.t) / thick)
    row = int(np.searchsorted(canvas.t[:, 0], -1.0))
    level = np.median(canvas.light[max(row - 6, 0) : row]) if row > 6 else 0.6
    canvas.light += air * (level - canvas.light)


def paint_boat(canvas, rng, lean=None):
    """A boat on the water, with a mast that leans with it."""
    camera = canvas.camera
    away = np.exp(rng.uniform(np.log(12 * camera.height), np.log(900)))
    unit = camera.focal / away
    foot, middle = camera.height * unit, rng.uniform(-0.45, 0.45) * camera.size[1]
    long, tall = rng.uniform(5, 14) * unit, rng.uniform(7, 16) * unit
    light = rng.choice([0.04, 0.1, 0.9])
    x = (canvas.x - middle) / long
    top = foot - 1.1 * unit * (1 + 0.5 * np.maximum(x, 0) ** 2)
    hull = inside(canvas.t - top) * inside(foot - canvas.t) * inside((0.5 - np.abs(x)) * long)
    canvas.lay(hull, light)
    if rng.random() < 0.7:
        lean = rng.normal(0, 3) if lean is None else lean
        canvas.pole(middle, foot - unit, tall, lean, max(0.15 * unit, 0.7), 0.07)
