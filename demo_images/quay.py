"""The water's edge: quay wall, street lamps, people, the mole and its lighthouse."""

from itertools import pairwise

import numpy as np

from paint import lay, mix, noise_tile, sample, smoothstep
from sky import haze
from town import QUAY_HEIGHT, SHORE, SHORE_END, SHORE_START
from view import Wall

MOLE = Wall(
    SHORE.x + SHORE_END * SHORE.along[0],
    SHORE.z + SHORE_END * SHORE.along[1],
    (1.0 / np.hypot(1, 0.1), 0.1 / np.hypot(1, 0.1)),
)
MOLE_LENGTH, LIGHT_AT = 29.0, 25.0


def paint_quay(canvas, view, evening, lamps):
    """The stone wall, and the street lamps that stand on it."""
    _masonry(canvas, view, evening, SHORE, (SHORE_START - 60, SHORE_END), QUAY_HEIGHT, lamps)
    _strollers(canvas, view, evening)
    for lamp in lamps:
        _street_lamp(canvas, view, evening, lamp)
    for left, right in pairwise(lamps):
        if -62 < left.u < 20:
            _festoon(canvas, view, evening, left, right)


def paint_mole(canvas, view, evening):
    """The breakwater and the lighthouse at its end."""
    _masonry(canvas, view, evening, MOLE, (-2, MOLE_LENGTH), 2.6, ())
    _lighthouse(canvas, view, evening)


def _masonry(canvas, view, evening, wall, extent, height, lamps):
    patch = wall.patch(view, *extent, -0.3, height + 0.05)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    course = np.floor(v / 0.52)
    block = np.floor(u / 1.15 + 0.5 * (course % 2))
    tone = sample(noise_tile(23, 0.3), block * 13, course * 29)
    grain = sample(noise_tile(24, 1.2), u * 17, v * 40)
    joint = (v % 0.52 < 0.05) | ((u / 1.15 + 0.5 * (course % 2)) % 1 < 0.04)
    stone = np.array((0.30, 0.27, 0.23)) * (1 + 0.14 * tone + 0.12 * grain)[..., None]
    stone = np.where(joint[..., None], stone * 0.6, stone)
    stone = mix(np.array((0.035, 0.045, 0.028)), stone, smoothstep(0.35, 1.0, v + 0.12 * grain))
    coping = v > height - 0.26
    stone = np.where(coping[..., None], np.array((0.44, 0.41, 0.36)) * (1 + 0.1 * grain)[..., None],
                     stone)
    levels = dict(ambient=evening.ambient * 0.42, glow=evening.ambient * 0.2,
                  sun=evening.sun * 0.25 * coping)
    for lamp in lamps:
        reach = (u - lamp.u) ** 2 + (v - lamp.height) ** 2 + 1.5
        pool = lamp.candela / np.pi / reach * 0.55 * lamp.on(evening.minutes)
        levels[lamp.light] = levels.get(lamp.light, 0) + pool * smoothstep(0, height, v)
    radiance = evening.shade(np.clip(stone, 0.01, 0.9), **levels)
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    inside = (v <= height) & (v >= -0.02)
    lay(canvas, (rows, columns), radiance, inside)


def _street_lamp(canvas, view, evening, lamp):
    patch = SHORE.patch(view, lamp.u - 1, lamp.u + 1, QUAY_HEIGHT, lamp.height + 1)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    pixel = depth / view.focal
    post = (np.abs(u - lamp.u) < np.maximum(0.07, 0.7 * pixel)) & (v < lamp.height)
    arm = (np.abs(v - lamp.height + 0.1) < 0.05) & (np.abs(u - lamp.u) < 0.3)
    iron = evening.shade((0.05, 0.055, 0.06), ambient=evening.ambient * 0.5,
                         glow=evening.ambient * 0.3)
    lay(canvas, (rows, columns), iron, post | arm)
    glass = np.hypot((u - lamp.u) * 1.15, v - lamp.height - 0.22) < np.maximum(0.27, 1.6 * pixel)
    level = 2600.0 * lamp.on(evening.minutes) + 0.25 * evening.ambient
    lay(canvas, (rows, columns), level * evening.white(lamp.light), glass)


def _strollers(canvas, view, evening):
    """People on the quay, as dark figures against the house fronts."""
    rng = np.random.default_rng(31)
    for _ in range(26):
        at, tall = rng.uniform(-66, 40), rng.uniform(1.55, 1.85)
        clothes = rng.uniform(0.03, 0.16) * rng.uniform(0.75, 1.25, 3)
        at = at + evening.minutes * rng.uniform(-0.4, 0.4)
        patch = SHORE.patch(view, at - 0.5, at + 0.5, QUAY_HEIGHT - 0.1, QUAY_HEIGHT + 2)
        if patch is None:
            continue
        rows, columns, u, v, _ = patch
        x, y = (u - at) / tall, (v - QUAY_HEIGHT) / tall
        figure = (np.hypot(x * 1.15, y - 0.92) < 0.075) | (np.abs(x) < np.interp(
            y, (0, 0.48, 0.55, 0.8, 0.84), (0.07, 0.1, 0.12, 0.13, 0.04))) & (y > 0) & (y < 0.84)
        figure = figure & ~((np.abs(x) < 0.015) & (y < 0.45))
        cloth = evening.shade(clothes * np.where(y > 0.5, 1, 0.5)[..., None],
                              ambient=evening.ambient * 0.5,
                              sodium=2.0 * smoothstep(13, 17, evening.minutes))
        lay(canvas, (rows, columns), cloth, figure)


def _festoon(canvas, view, evening, left, right):
    """A string of small bulbs hung between two lamp posts."""
    patch = SHORE.patch(view, left.u, right.u, QUAY_HEIGHT, left.height)
    if patch is None or evening.minutes < 9:
        return
    rows, columns, u, v, depth = patch
    along = (u - left.u) / (right.u - left.u)
    sag = left.height - 0.4 - 4.2 * along * (1 - along)
    spacing = 1.05
    offset = (u + spacing / 2) % spacing - spacing / 2
    radius = np.maximum(0.085, 1.05 * depth / view.focal)
    bulb = np.hypot(offset, v - sag) < radius
    level = 420.0 * (0.085 / radius) ** 2
    lay(canvas, (rows, columns), level[..., None] * evening.white("candle"), bulb)


def _lighthouse(canvas, view, evening):
    foot, gallery, lantern, dome = 2.5, 15.2, 17.6, 19.0
    patch = MOLE.patch(view, LIGHT_AT - 4, LIGHT_AT + 4, foot - 0.2, dome + 1.5)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    x = u - LIGHT_AT
    half = np.interp(v, (foot, gallery, gallery + 0.01, gallery + 0.5, gallery + 0.51,
                         lantern, lantern + 0.01, dome),
                     (2.05, 1.35, 1.95, 1.95, 0.95, 0.95, 1.15, 0.0))
    half = np.where(v > dome, np.where(v < dome + 1.1, 0.07, 0), half)
    t = np.clip(x / np.maximum(half, 0.05), -1, 1)
    band = np.abs(v - 9.4) < 1.9
    stain = 1 + 0.05 * sample(noise_tile(25, 1.4), u * 14, v * 6)
    albedo = np.where(band[..., None], np.array((0.42, 0.055, 0.04)), np.array((0.78, 0.76, 0.71)))
    albedo = np.where((v > lantern)[..., None], np.array((0.36, 0.05, 0.04)), albedo)
    albedo = np.where((np.abs(v - gallery - 0.25) < 0.26)[..., None], 0.25, albedo)
    slit = (np.abs(x) < 0.24) & (np.abs((v - 5.2) % 4.6 - 0.5) < 0.5) & (v < 14)
    albedo = np.where(slit[..., None], 0.03, albedo * stain[..., None])
    facing = np.sqrt(np.clip(1 - t * t, 0, 1))
    warm = np.clip(0.25 * facing + 0.8 * t, 0, 1)
    radiance = evening.shade(albedo, ambient=evening.ambient * (0.33 + 0.22 * facing - 0.08 * t),
                             glow=evening.ambient * 0.75 * warm, sun=evening.sun * 0.75 * warm)
    glass = (v > gallery + 0.55) & (v < lantern)
    lit = smoothstep(7, 10, evening.minutes)
    core = np.exp(-(t * t) / 0.25) * np.exp(-(((v - 16.6) / 0.6) ** 2))
    flame = (0.3 * evening.ambient + lit * (60 + 3600 * core))[..., None] * evening.white(
        "warm_led")
    bars = np.abs(np.abs(x) - 0.4) < 0.06
    radiance = np.where((glass & ~bars)[..., None], flame, radiance)
    rail = (np.abs(v - gallery - 1.35) < 0.05) | (np.abs((x + 9) % 0.4 - 0.2) < 0.03)
    rail = rail & (np.abs(x) < 1.95) & (v > gallery) & (v < gallery + 1.4)
    radiance = np.where((rail & ~glass)[..., None], radiance * 0 + 0.1 * evening.ambient, radiance)
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    inside = (np.abs(x) < half) | rail
    lay(canvas, (rows, columns), radiance, inside)
