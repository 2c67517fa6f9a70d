"""Evenings on the water from a boat, of known lean; and edges that are no sea horizon.

The sea is a plane: a wave so far away is as small as it should be, and what is finer than a pixel
is averaged. All is drawn in stops, at the size that a lean is looked for at.
"""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter, gaussian_filter1d, map_coordinates

from inspect_frames import METER, noise_at

SIZE = (400, 600)
WAVES = (0.4, 1.2, 4.0, 14.0, 50.0)
"""Lengths of waves in metres."""


@dataclass(frozen=True)
class Eye:
    """A camera: picture size, focal length in pixels, height above the water in metres, row of the
    horizon below the middle, degrees that it is turned, and share that the lens bends."""

    size: tuple[int, int] = SIZE
    focal: float = 600.0
    height: float = 3.0
    row: float = -30.0
    roll: float = 0.0
    bends: float = 0.0

    def places(self):
        """Of each pixel: columns from the middle and rows below the horizon, upright."""
        rows, columns = self.size
        v, u = np.mgrid[:rows, :columns].astype(float)
        v, u = v - rows / 2 + 0.5, u - columns / 2 + 0.5
        far = 1 + self.bends * (u * u + v * v) / (columns / 2) ** 2
        u, v, angle = u * far, v * far, np.radians(self.roll)
        x, y = u * np.cos(angle) + v * np.sin(angle), v * np.cos(angle) - u * np.sin(angle)
        return x, y - self.row


def eye(rng, size=SIZE, **stated):
    """A camera as people hold them; what is stated is so."""
    wide = rng.random() < 0.3
    drawn = {
        "focal": size[1] * rng.uniform(*((0.55, 0.8) if wide else (0.8, 3.0))),
        "height": rng.uniform(1.5, 6), "row": size[0] * rng.uniform(-0.28, 0.25),
        "roll": rng.normal(0, 2.2), "bends": rng.uniform(-0.05, 0.05) if wide else 0.0,
    }  # fmt: skip
    return Eye(size, **(drawn | stated))


def field(rng, smooth=(1.0, 1.0)):
    """A random tile that repeats, of deviation 1."""
    tile = gaussian_filter(rng.normal(0, 1, (256, 256)), smooth, mode="wrap")
    return tile / tile.std()


def read(tile, y, x):
    """A tile at places, in its pixels."""
    return map_coordinates(tile, [y % 256, x % 256], order=1, mode="grid-wrap")


def line(rng, x, amount, length):
    """A smooth random course of some deviation over columns."""
    course = gaussian_filter1d(rng.normal(0, 1, 2048), max(length, 0.5), mode="wrap")
    return amount * np.interp(x % 2048, np.arange(2048), course / course.std())


def step(rows, soft):
    """From 0 above an edge to 1 below it."""
    return 0.5 + 0.5 * np.tanh(rows / max(soft, 0.3))


def sky(rng, at, x, t, bands):
    """Stops of a sky, with a number of level bands of cloud."""
    rows = at.size[0]
    up = np.maximum(-t, 0) / rows
    stops = rng.uniform(0, 1.5) * np.exp(-up / rng.uniform(0.05, 0.5)) - rng.uniform(0, 1) * up
    sun = rng.uniform(-0.7, 0.7) * at.size[1]
    stops += rng.uniform(0, 1.5) * np.exp(-np.hypot((x - sun) / rows, up) / rng.uniform(0.1, 0.6))
    for _ in range(bands):
        stops += _cloud(rng, rows, x, t)
    return stops + rng.uniform(0, 0.15) * read(field(rng, (3, 9)), t / 3, x / 6)


def _cloud(rng, rows, x, t):
    """A bank of cloud with a nearly level border."""
    lower = -rows * rng.uniform(0.015, 0.35) + x * np.tan(np.radians(rng.normal(0, 0.6)))
    wave = line(rng, x + 1000, rng.choice([0.0, 0.6, 2.5]), rng.uniform(6, 80))
    upper = rows * rng.uniform(0.01, 0.12) * (1 + 0.3 * line(rng, x, 1.0, rng.uniform(20, 150)))
    soft = rng.uniform(0.5, 6)
    body = step(lower + wave - t, soft) * step(t - lower + upper, rng.uniform(1, 12))
    if rng.random() < 0.3:
        body = body * step(rng.choice([-1, 1]) * (x - rng.uniform(-0.3, 0.3) * rows), 40)
    return rng.uniform(-1.2, 0.6) * body


def waves(rng, at, x, t, rough=1.0, wind=None):
    """Stops of waves on water from the horizon on."""
    below = np.maximum(t, 0.25)
    away = at.focal * at.height / below
    side, deep = x * away / at.focal, away
    tall, broad = away**2 / (at.focal * at.height), away / at.focal
    stops = np.zeros_like(x)
    wind = rng.uniform(0.3, 1.0, len(WAVES)) if wind is None else wind
    for length, weight in zip(WAVES, wind, strict=True):
        seen = np.exp(-((tall / length) ** 2) / 2 - (broad / length) ** 2 / 2)
        wave = read(field(rng, (1.2, 2.4)), 6 * deep / length, 6 * side / length)
        stops += weight * seen * wave
    return rough * 0.35 * np.where(t > 0, stops, 0)


def glitter(rng, at, x, t, sun, strength):
    """Stops of sun on the water about a column."""
    wide = rng.uniform(0.04, 0.12) * at.size[1] + 0.25 * np.maximum(t, 0)
    path = np.exp(-0.5 * ((x - sun) / wide) ** 2) * (t > 0)
    dots = np.maximum(rng.normal(0, 1, x.shape) - 0.4, 0)
    far = gaussian_filter(dots, (0.6, 1.0)) * 2.5
    return strength * path * (0.5 + far)


def sea(seed, size=SIZE, **stated):
    """A sea under the sky: its stops and the camera.

    ``kind`` is one of `KINDS`, at random unless stated; other words are those of `Eye`.
    """
    rng = np.random.default_rng(seed)
    kind = stated.pop("kind", None) or KINDS[seed % len(KINDS)]
    at = eye(rng, size, **stated)
    x, t = at.places()
    bands = int(rng.integers(2, 6)) if kind == "clouds" else int(rng.integers(0, 3))
    above = sky(rng, at, x, np.minimum(t, 0), bands)
    mirrored = gaussian_filter(sky_below(rng, above, t), 2)
    rough = {"calm": 0.12, "swell": 1.0, "crests": 1.6}.get(kind, rng.uniform(0.3, 1.0))
    wind = np.array([0.2, 0.3, 0.6, 1.4, 1.6]) if kind == "swell" else None
    water = mirrored - rng.uniform(0.25, 1.4) + waves(rng, at, x, t, rough, wind)
    water -= rng.uniform(0, 1.2) * np.maximum(t, 0) / size[0]
    if kind == "glitter" or rng.random() < 0.15:
        sun = rng.uniform(-0.4, 0.4) * size[1]
        water += glitter(rng, at, x, t, sun, rng.uniform(1, 3))
    if kind == "crests":
        water += 1.5 * np.maximum(read(field(rng, (2, 8)), t / 2, x / 3) - 1.6, 0) * (
            t > 0.25 * size[0]
        )
    soft = rng.uniform(0.3, 1.0)
    picture = above + step(t, soft) * (water - above)
    if kind == "haze":
        air = np.exp(-np.maximum(t, 0) / (size[0] * rng.uniform(0.01, 0.06)))
        picture = above * air + picture * (1 - air) if rng.random() < 0.5 else (
            picture + 0.8 * air * (above - picture)
        )
    if kind == "coast" or rng.random() < 0.1:
        picture = _far_coast(rng, at, x, t, picture)
    for _ in range(int(rng.integers(1, 5)) if kind == "boats" else int(rng.random() < 0.3)):
        picture = _boat(rng, at, x, t, picture)
    return picture, at


KINDS = ("plain", "haze", "blue hour", "glitter", "swell", "clouds", "coast", "crests", "boats",
         "calm")  # fmt: skip


def sky_below(rng, above, t):
    """The sky that water shows: that of some height, the same all the way down."""
    down = np.where(t < 0, above, np.nan)
    means = np.nanmean(np.where((t < -5) & (t > -60), down, np.nan))
    return np.full_like(above, means)


def _far_coast(rng, at, x, t, picture):
    """A coast far away on a part of the horizon."""
    tall = at.size[0] * rng.uniform(0.004, 0.02)
    side = rng.choice([-1, 1])
    part = step(side * x - rng.uniform(-0.15, 0.35) * at.size[1], 30)
    top = tall * part * (1 + 0.4 * line(rng, x, 1.0, rng.uniform(4, 40)))
    tilt = np.tan(np.radians(rng.uniform(-0.1, 0.1)))
    land = step(t + np.maximum(top, 0), 0.5) * (1 - step(t - side * tilt * x * part * 0.3, 0.5))
    land = land * (part > 0.05)
    return picture + land * (rng.uniform(-2.0, -0.3) + np.mean(picture[np.abs(t) < 8]) - picture)


def _boat(rng, at, x, t, picture):
    """A boat before the horizon: hull, cabin, mast."""
    wide = at.size[1] * rng.uniform(0.02, 0.16)
    middle, tall = rng.uniform(-0.45, 0.45) * at.size[1], wide * rng.uniform(0.1, 0.3)
    foot = at.size[0] * rng.uniform(0.0, 0.12)
    hull = (np.abs(x - middle) < wide / 2) & (t < foot) & (t > foot - tall)
    cabin = (np.abs(x - middle) < wide / 5) & (t < foot) & (t > foot - 2 * tall)
    lean = np.tan(np.radians(rng.normal(0, 3)))
    mast = (np.abs(x - middle + lean * (foot - t)) < 1.2) & (t < foot) & (t > foot - 2.5 * wide)
    dark = np.mean(picture) + rng.uniform(-3, 1)
    return np.where(hull | cabin | mast, dark, picture)


# ---- what is no sea horizon ----


def _ground(rng, at, x, t, low, shine=0.0):
    """Stops of water below a shore."""
    return rng.uniform(-1.2, 0.2) + waves(rng, at, x, t, rng.uniform(0.2, 1.0)) + low


def _tilt(rng, x, degrees=(0.8, 2.2)):
    return x * np.tan(np.radians(rng.choice([-1, 1]) * rng.uniform(*degrees)))


def _backdrop(rng, at):
    x, t = at.places()
    return x, t, sky(rng, at, x, np.minimum(t, 0), int(rng.integers(0, 3)))


def near_shore(rng, at):
    """Land before the sky, its waterline in perspective; straight or nearly so."""
    x, t, above = _backdrop(rng, at)
    tilt = _tilt(rng, x)
    away = 1 + tilt / (np.ptp(tilt) + 1)
    foot = at.size[0] * rng.uniform(0.02, 0.06) * away + line(rng, x, rng.choice([0, 0.3, 1]), 20)
    top = -at.size[0] * rng.uniform(0.02, 0.15) * away * (1 + 0.4 * line(rng, x, 1, 15))
    land = rng.uniform(-2.5, -0.5) + 0.4 * read(field(rng), t, x)
    picture = above + step(t - top, 0.5) * (land - above)
    return picture + step(t - foot - tilt, 0.5) * (_ground(rng, at, x, t, 0) - picture)


def low_bank(rng, at):
    """A river bank or dike whose top and foot are straight lines that run together."""
    x, t, above = _backdrop(rng, at)
    away = 1 + rng.choice([-1, 1]) * rng.uniform(0.3, 0.9) * x / at.size[1] * 1.4
    top = -at.size[0] * rng.uniform(0.005, 0.05) * away
    foot = at.size[0] * rng.uniform(0.02, 0.07) * away
    land = rng.uniform(-2.0, -0.4) + rng.uniform(0, 0.3) * read(field(rng), 2 * t, x)
    picture = above + step(t - top, 0.5) * (land - above)
    return picture + step(t - foot, 0.5) * (_ground(rng, at, x, t, 0) - picture)


def quay(rng, at):
    """A quay wall with courses, houses behind."""
    x, t, picture = _backdrop(rng, at)
    away = 1 + rng.choice([-1, 1]) * rng.uniform(0.3, 0.9) * x / at.size[1] * 1.4
    row = t / away
    for _ in range(int(rng.integers(3, 14))):
        left, wide = rng.uniform(-0.6, 0.5) * at.size[1], rng.uniform(0.04, 0.2) * at.size[1]
        tall = -at.size[0] * rng.uniform(0.03, 0.25)
        house = (x > left) & (x < left + wide) & (row > tall) & (row < 0)
        picture = np.where(house, rng.normal(-1.2, 0.7), picture)
    top, foot = at.size[0] * rng.uniform(-0.03, 0.02), at.size[0] * rng.uniform(0.04, 0.12)
    wall = rng.uniform(-1.5, 0.3) + 0.25 * (np.sin(row * rng.uniform(0.5, 1.6)) > 0.6)
    wall = wall + 0.1 * read(field(rng), 3 * row, x)
    picture = picture + step(row - top, 0.5) * (wall - picture)
    return picture + step(row - foot, 0.5) * (_ground(rng, at, x, t, 0) - picture)


def deck(rng, at):
    """A deck or a gunwale before the sky or before water, no horizon in sight."""
    x, t, above = _backdrop(rng, at)
    tilt = _tilt(rng, x, (0.3, 4)) + rng.choice([0, 0, 1]) * x**2 / at.size[1] * 0.02
    if rng.random() < 0.5:
        above = waves(rng, at, x, t + at.size[0], rng.uniform(0.2, 1)) - 0.5
    row = t - tilt
    plank = rng.choice([0.0, 1.0]) * 0.3 * (np.sin(row * rng.uniform(0.2, 1.2)) > 0.8)
    board = 0.3 * (np.sin((x + row * rng.normal(0, 2)) * rng.uniform(0.05, 0.3)) > 0.9)
    wood = rng.uniform(-1.5, 1.2) + plank + board + 0.08 * read(field(rng), 2 * row, 2 * x)
    return above + step(row, 0.6) * (wood - above)


def reeds(rng, at):
    """Reeds before the sky, and water below; one edge or both ragged."""
    x, t, above = _backdrop(rng, at)
    tilt = _tilt(rng, x)
    stems = 0.5 * read(field(rng, (8, 0.6)), t / 3, x) - 1.2
    top = -at.size[0] * rng.uniform(0.01, 0.08) + line(rng, x, rng.uniform(0.6, 4), 1.5)
    foot = at.size[0] * rng.uniform(0.01, 0.08) + line(rng, x, rng.uniform(0, 1.0), 4)
    picture = above + step(t - tilt - top, 0.6) * (stems - above)
    return picture + step(t - tilt - foot, 0.6) * (_ground(rng, at, x, t, 0) - picture)


def dunes(rng, at):
    """Crests of sand or hills before the sky, nothing else below."""
    x, t, picture = _backdrop(rng, at)
    for depth in range(int(rng.integers(1, 4))):
        crest = depth * at.size[0] * 0.12 + _tilt(rng, x, (0.2, 3))
        crest = crest + line(rng, x, rng.uniform(0.2, 12), rng.uniform(30, 200))
        sand = rng.uniform(-1.5, 0.3) + rng.uniform(0, 0.2) * read(
            field(rng, (0.8, 5)), (t - crest) * rng.uniform(0.5, 2), x / 2)  # fmt: skip
        picture = picture + step(t - crest, 0.5) * (sand - picture)
    return picture


def ridge(rng, at):
    """Dark land before a sky, its border rough, smooth or quite straight."""
    x, t, above = _backdrop(rng, at)
    border = _tilt(rng, x, (0.3, 3)) + line(rng, x, rng.choice([0, 0.2, 1, 5]), rng.uniform(2, 90))
    land = rng.uniform(-4, -0.7) + rng.uniform(0, 0.3) * read(field(rng), t, x)
    return above + step(t - border, rng.uniform(0.4, 1.2)) * (land - above)


def clouds_only(rng, at):
    """Banks of cloud, and no horizon."""
    x, t = at.places()
    return sky(rng, at, x, t - 0.3 * at.size[0], int(rng.integers(2, 7)))


def beach(rng, at):
    """Sand that slopes into water, with lines of surf, and trees behind."""
    x, t, above = _backdrop(rng, at)
    tilt = _tilt(rng, x)
    top = -at.size[0] * rng.uniform(0.03, 0.1) + line(rng, x, 3, 6)
    picture = above + step(t - top, 0.6) * (-1.5 + 0.5 * read(field(rng), t, x) - above)
    for depth in np.sort(rng.uniform(0.01, 0.2, int(rng.integers(2, 5)))):
        edge = depth * at.size[0] + tilt + line(rng, x, rng.uniform(0.1, 2), rng.uniform(20, 90))
        new = rng.uniform(-1, 1) + waves(rng, at, x, t, 0.5)
        picture = picture + step(t - edge, 0.6) * (new - picture)
    return picture


def rail(rng, at):
    """A rail, a roof or a boom across a view of water or of sky."""
    x, t, above = _backdrop(rng, at)
    if rng.random() < 0.5:
        above = waves(rng, at, x, t + 1.5 * at.size[0], rng.uniform(0.2, 1)) - 0.5
    row = t - _tilt(rng, x, (0.4, 5))
    bar = step(row, 0.5) * (1 - step(row - at.size[0] * rng.uniform(0.01, 0.1), 0.5))
    return above + bar * (rng.uniform(-3, 1.5) - above)


TUNED = (near_shore, quay, deck, reeds, ridge)
HELD_BACK = (low_bank, dunes, clouds_only, beach, rail)


def no_sea(scene, seed, size=SIZE):
    """A scene without a sea horizon: its stops."""
    rng = np.random.default_rng(seed)
    return scene(rng, eye(rng, size))


def recorded(stops, seed, iso=None, averaged=64):
    """Light of a metered frame with its noise, and the noise of a pixel."""
    rng = np.random.default_rng(seed + 77)
    iso = int(rng.choice([100, 400, 1600, 6400])) if iso is None else iso
    noise = noise_at(iso).averaged(averaged)
    light = gaussian_filter(2.0**stops, rng.uniform(0.3, 0.7))
    metered = np.mean(np.minimum(light, 8 * np.median(light)))
    light = light * METER * 2 ** rng.normal(0, 0.5) / metered
    light = light + rng.normal(0, 1, light.shape) * np.sqrt(noise.gain * light + noise.offset)
    return np.minimum(light, 1).astype(np.float32), noise


def awning(rng, at):
    """A white awning that hides the horizon: the edge of it, straight, and water below."""
    x, t = at.places()
    row = t - _tilt(rng, x, (0.3, 4))
    row = row - t.min() - at.size[0] * rng.uniform(0.3, 0.7)
    cloth = rng.uniform(-0.2, 1.5) + rng.uniform(0, 0.4) * np.exp(row / at.size[0])
    away = t - t.min() + at.size[0] * rng.uniform(-0.2, 0.3)
    water = waves(rng, at, x, away, rng.uniform(0.2, 1)) - rng.uniform(0.2, 1)
    return cloth + step(row, 0.5) * (water - cloth)


def boards(rng, at):
    """A wall of level boards before the sky, seen from the side."""
    x, t, above = _backdrop(rng, at)
    row = t / (1 + rng.choice([-1, 1]) * rng.uniform(0.3, 0.9) * x / at.size[1] * 1.4)
    row = row - _tilt(rng, x, (0.0, 1.5))
    wall = rng.uniform(-1.8, 0) - 0.4 * np.maximum(np.sin(row * rng.uniform(0.4, 1.5)), 0) ** 8
    wall = wall + 0.08 * read(field(rng, (0.7, 3)), 2 * row, x)
    return above + step(row, 0.5) * (wall - above)


def furrows(rng, at):
    """A hillside ploughed along its crest, before the sky: furrows of one size."""
    x, t, above = _backdrop(rng, at)
    row = t - _tilt(rng, x, (0.6, 3)) - line(rng, x, rng.uniform(0, 0.6), rng.uniform(30, 120))
    soil = rng.uniform(-2, -0.3) + 0.3 * read(field(rng, (0.8, 12)), row * rng.uniform(0.5, 1.5), x)
    return above + step(row, 0.5) * (soil - above)


def jetty(rng, at):
    """A jetty that runs into the water from one side, before the sky."""
    x, t, above = _backdrop(rng, at)
    away = 1 + rng.choice([-1, 1]) * rng.uniform(0.5, 0.95) * x / at.size[1] * 1.4
    top, foot = -at.size[0] * rng.uniform(0.0, 0.03), at.size[0] * rng.uniform(0.005, 0.05)
    wood = rng.uniform(-2, 0.4) + 0.1 * read(field(rng, (1, 4)), 3 * t / away, x)
    picture = above + step(t - top * away, 0.5) * (wood - above)
    return picture + step(t - foot * away, 0.5) * (_ground(rng, at, x, t, 0) - picture)


UNSEEN = (awning, boards, furrows, jetty, low_bank)
