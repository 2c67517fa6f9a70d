"""The plan of the town: rows of houses on a shore that climbs, a church, trees."""

from dataclasses import dataclass

import numpy as np

from facade import House, paint_house
from paint import lay, noise_tile, sample, smoothstep
from sky import haze
from view import Wall

_STEEPNESS = 1.15
SHORE = Wall(0.0, 150.0, tuple(np.array((1.0, _STEEPNESS)) / np.hypot(1.0, _STEEPNESS)))
SHORE_START, SHORE_END = -92.0, 46.0
QUAY_HEIGHT = 2.1
# Distance behind the quay's edge and height of the ground, metres.
TERRACES = ((11.0, 2.2), (27.0, 8.0), (46.0, 15.0), (70.0, 22.5), (98.0, 30.0))
CHURCH_SETBACK = 70.0

_PAINTS = (
    (0.62, 0.42, 0.17), (0.55, 0.24, 0.13), (0.70, 0.63, 0.48), (0.42, 0.52, 0.58),
    (0.44, 0.50, 0.36), (0.66, 0.43, 0.36), (0.74, 0.72, 0.66), (0.66, 0.50, 0.20),
    (0.38, 0.09, 0.06), (0.50, 0.49, 0.46), (0.17, 0.27, 0.36), (0.64, 0.54, 0.42),
)
_TILES = ((0.26, 0.10, 0.06), (0.20, 0.085, 0.055), (0.11, 0.12, 0.14), (0.30, 0.14, 0.09),
          (0.14, 0.13, 0.13))
_SHUTTERS = (None, None, (0.08, 0.16, 0.12), (0.07, 0.13, 0.22), (0.20, 0.06, 0.04), None)


@dataclass(frozen=True)
class Lamp:
    """A street lamp on the quay, seen from the wall that it lights.

    ``gap`` is its distance from that wall in metres, ``candela`` its intensity.
    """

    u: float
    height: float
    gap: float
    candela: float
    light: str
    minute: float

    def on(self, minutes):
        """0 before it is switched on, 1 when warm."""
        return float(smoothstep(self.minute, self.minute + 2.5, minutes))


def plan_lamps(seed=5):
    """Street lamps along the quay's edge, mostly sodium, some warm and some cool LED."""
    rng = np.random.default_rng(seed)
    lamps = []
    for u in np.arange(SHORE_START + 6, SHORE_END - 2, 13.5):
        light = rng.choice(["sodium", "sodium", "warm_led", "warm_led", "cool_led"])
        lamps.append(Lamp(float(u + rng.uniform(-1.5, 1.5)), QUAY_HEIGHT + 4.9, 9.0, 1300.0,
                          str(light), float(rng.uniform(11, 17))))
    return lamps


def plan_houses(seed=8):
    """Houses of every terrace, as lists; the farthest terrace first."""
    rng = np.random.default_rng(seed)
    terraces = []
    for terrace, (_, rise) in reversed(list(enumerate(TERRACES))):
        end = SHORE_END - 6 - 9 * terrace
        u = SHORE_START - 70 + rng.uniform(0, 4)
        houses = []
        while u < end:
            width = rng.uniform(5.6, 10.5)
            slope = smoothstep(end + 40, end - 45, u)
            ground = QUAY_HEIGHT + (rise - 2.2) * slope + 0.1
            if rng.random() > 0.05 + 0.09 * terrace:
                houses.append(_house(rng, u, width, ground, terrace))
            u += width + (0 if rng.random() < 0.72 else rng.uniform(0.5, 3.0))
        terraces.append(houses)
    return terraces


def _house(rng, left, width, ground, terrace):
    storeys = int(rng.integers(2, 5 if terrace == 0 else 4))
    across = max(2, round(width / 2.15))
    size = (storeys, across)
    lived_in = rng.random(size) < (0.62 if terrace == 0 else 0.5)
    lit = np.where(lived_in, rng.triangular(4, 30, 46, size), np.inf)
    lamp = rng.choice(3, p=(0.66, 0.24, 0.10), size=size)
    shop = terrace == 0 and rng.random() < 0.55
    if shop:
        lit[0], lamp[0] = rng.uniform(3, 20), rng.choice(2)
    gable = rng.random() < 0.38
    return House(
        left=float(left),
        right=float(left + width),
        ground=float(ground),
        storeys=storeys,
        gable=bool(gable),
        roof_height=float(width * rng.uniform(0.42, 0.62) if gable else rng.uniform(1.7, 3.2)),
        paint=_PAINTS[rng.integers(len(_PAINTS))],
        tiles=_TILES[rng.integers(len(_TILES))],
        shutters=_SHUTTERS[rng.integers(len(_SHUTTERS))],
        shop=bool(shop),
        seed=int(rng.integers(1, 1000)),
        lit=lit,
        level=rng.lognormal(np.log(27), 0.65, size) * (1.5 if shop else 1.0),
        lamp=lamp,
    )


def paint_town(canvas, view, evening, terraces, lamps):
    """All terraces from back to front, with trees between them and the church above."""
    for houses, (setback, rise) in zip(terraces, reversed(TERRACES), strict=True):
        wall = SHORE.behind(setback)
        _trees(canvas, view, evening, wall, setback, rise)
        if setback == CHURCH_SETBACK:
            _church(canvas, view, evening, wall)
        for house in houses:
            near = [lamp for lamp in lamps if setback == TERRACES[0][0]
                    and house.left - 22 < lamp.u < house.right + 22]
            paint_house(canvas, view, evening, wall, house, near)


def _trees(canvas, view, evening, wall, setback, rise):
    """Crowns that stand behind the houses of one terrace."""
    rng = np.random.default_rng(int(setback))
    for u in np.arange(SHORE_START - 60, SHORE_END - 25 - 0.8 * setback, 6.5):
        u = u + rng.uniform(-3, 3)
        radius, height = rng.uniform(2.2, 4.2), rise + rng.uniform(5.5, 9.5)
        if rng.random() > 0.45:
            _crown(canvas, view, evening, wall, u, height, radius)


def _crown(canvas, view, evening, wall, centre, height, radius):
    patch = wall.patch(view, centre - 1.5 * radius, centre + 1.5 * radius, height - 9,
                       height + 1.6 * radius)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    x, y = (u - centre) / radius, (v - height) / (radius * 1.15)
    leaf = sample(noise_tile(18, 1.15), u * 16, v * 16)
    clump = sample(noise_tile(19, 1.6), u * 9, v * 9)
    inside = np.hypot(x, np.where(y < 0, y * 0.45, y)) + 0.13 * clump + 0.09 * leaf < 0.95
    lit = np.clip(0.55 + 0.45 * x * 0.6 + 0.4 * y + 0.22 * clump + 0.16 * leaf, 0.08, 1.6)
    albedo = np.array((0.05, 0.075, 0.03)) * np.ones_like(lit)[..., None]
    radiance = evening.shade(albedo, ambient=evening.ambient * 0.75 * lit,
                             glow=evening.ambient * 0.25 * lit, sun=evening.sun * 0.6 * lit)
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    lay(canvas, (rows, columns), radiance, inside)


def _church(canvas, view, evening, wall):
    """A square tower with a lit clock and a slate spire."""
    centre, base, tower, spire, half = -8.0, 20.0, 37.0, 48.0, 2.6
    patch = wall.patch(view, centre - 4, centre + 4, base, spire + 2)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    x = u - centre
    stone = 1 + 0.08 * sample(noise_tile(20, 1.3), u * 12, v * 12)
    stone = stone * (1 - 0.12 * ((v % 0.9 < 0.08) | ((u + (v // 0.9) * 0.6) % 1.4 < 0.08)))
    side = 0.75 + 0.25 * smoothstep(-half, half, x)
    levels = dict(ambient=evening.ambient * 0.55 * side, glow=evening.ambient * 0.28 * side,
                  sun=evening.sun * 0.45 * side)
    radiance = evening.shade(np.array((0.46, 0.40, 0.32)) * stone[..., None], **levels)
    louvre = (np.abs(np.abs(x) - 1.15) < 0.55) & (np.abs(v - tower + 4.6) < 1.6)
    radiance = np.where(louvre[..., None], radiance * 0.18, radiance)
    clock = np.hypot(x, v - tower + 9.2) < 1.25
    hands = clock & ((np.abs(x) < 0.1) & (v > tower - 9.2) | (np.abs(x - v + tower - 9.2) < 0.12))
    dial = 26.0 * smoothstep(8, 12, evening.minutes) * evening.white("warm_led")
    dial = dial + radiance * 1.5
    radiance = np.where(clock[..., None], np.where(hands[..., None], dial * 0.15, dial), radiance)
    slope = half * 0.94 * (spire - v) / (spire - tower)
    slate = evening.shade(
        np.array((0.10, 0.13, 0.13)) * (stone * (0.8 + 0.25 * smoothstep(-2, 2, x)))[..., None],
        ambient=evening.ambient * 0.7 * side, sun=evening.sun * 0.6 * (x > 0),
        glow=evening.ambient * 0.3 * side)
    radiance = np.where((v > tower)[..., None], slate, radiance)
    inside = (np.abs(x) < np.where(v > tower, slope, half)) | (np.abs(x) < 0.06) & (v > spire - 1)
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    lay(canvas, (rows, columns), radiance, inside)
