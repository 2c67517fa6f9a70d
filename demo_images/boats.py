"""Yachts and fishing boats moored along the quay."""

from dataclasses import dataclass

import numpy as np

from paint import noise_tile, sample, segment, smoothstep
from sky import haze
from town import SHORE, SHORE_END, SHORE_START

PONTOON = SHORE.behind(-16.0)
_HULLS = ((0.74, 0.73, 0.70), (0.06, 0.09, 0.17), (0.12, 0.24, 0.34), (0.30, 0.05, 0.04),
          (0.06, 0.20, 0.18), (0.66, 0.62, 0.52))
_STRAKE, _BOTTOM = np.array((0.2, 0.1, 0.05)), np.array((0.07, 0.03, 0.025))
_CABIN, _CABIN_TOP = np.array((0.68, 0.66, 0.60)), np.array((0.20, 0.11, 0.07))


@dataclass(frozen=True)
class Boat:
    """A moored boat; metres along the pontoon. ``lit`` is the minute its cabin lamp goes on."""

    centre: float
    length: float
    mast: float
    hull: tuple
    fishing: bool
    lit: float
    masthead_light: bool


def plan_boats(seed=17):
    """Boats along the pontoon, from left to right."""
    rng = np.random.default_rng(seed)
    boats, u = [], SHORE_START + 24
    while u < SHORE_END - 12:
        length = rng.uniform(7.0, 11.5)
        fishing = rng.random() < 0.28
        mast = 6.5 if fishing else length * rng.uniform(1.15, 1.4)
        hull = _HULLS[rng.integers(len(_HULLS))]
        lit = rng.uniform(12, 40)
        boats.append(Boat(u + length / 2, length, mast, hull, fishing, lit, round(lit) % 2 == 1))
        u += length + rng.choice([0.8, 1.2, 2.0, 7.0])
    return boats


def paint_boats(layer, view, evening, boats):
    """Draw the boats into `layer`: camera RGB and, as fourth plane, cover."""
    for boat in boats:
        _boat(layer, view, evening, boat)


def _boat(layer, view, evening, boat):
    ends = boat.centre - boat.length, boat.centre + boat.length
    patch = PONTOON.patch(view, *ends, -0.3, boat.mast + 2.5)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    pixel = depth / view.focal
    sheer, hull, cabin, pane = _shapes(boat, (u - boat.centre) / (boat.length / 2), v)
    lit = smoothstep(boat.lit, boat.lit + 0.5, evening.minutes)
    radiance = _timber(evening, boat, u, v, sheer, cabin)
    room = 0.12 * evening.ambient * evening.white("zenith") + 30 * lit * evening.white("tungsten")
    radiance = np.where(pane[..., None], room, radiance)
    metal = evening.shade((0.45, 0.45, 0.46), ambient=evening.ambient * 0.5,
                          glow=evening.ambient * 0.4, sun=evening.sun * 0.5)
    radiance = np.where((hull | cabin)[..., None], radiance, metal)
    foot = boat.centre + 0.08 * boat.length
    masthead = np.hypot(u - foot, v - boat.mast) < np.maximum(0.12, 1.2 * pixel)
    masthead = masthead & np.bool_(boat.masthead_light and lit > 0)
    radiance = np.where(masthead[..., None], 700 * evening.white("cool_led"), radiance)
    solid = np.where(hull | cabin | masthead, 1.0, 0.0)
    cover = np.maximum(solid, _rigging(u, v, pixel, boat))[..., None]
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    target = layer[rows, columns]
    target[..., :3] = target[..., :3] * (1 - cover) + radiance * cover
    target[..., 3:] = target[..., 3:] * (1 - cover) + cover


def _shapes(boat, x, v):
    """Height of the deck's edge, and where hull, cabin and its windows are.

    `x` is -1 at the stern and 1 at the bow.
    """
    sheer = 0.95 + 0.45 * np.clip(x, -1, 1) ** 2 + 0.25 * x + 0.5 * boat.fishing
    bow = 0.86 + 0.13 * np.clip(v / sheer, 0, 1)
    hull = (v > -0.02) & (v < sheer) & (x < bow) & (x > -0.93)
    start, end, tall, sill, half = (
        (-0.55, -0.05, 2.3, 0.75, 0.42) if boat.fishing else (-0.5, 0.38, 0.55, 0.28, 0.11)
    )
    cabin = (x > start) & (x < end) & (v >= sheer) & (v < sheer + tall)
    pane = cabin & (np.abs(v - sheer - tall + sill) < half)
    return sheer, hull, cabin, pane & ((x * boat.length / 2) % 1.0 > 0.22)


def _timber(evening, boat, u, v, sheer, cabin):
    """Painted planks with a rubbing strake, and the cabin."""
    tone = np.where((v < 0.16)[..., None], _BOTTOM, np.array(boat.hull))
    tone = np.where(((v > sheer - 0.2) & (v < sheer - 0.08))[..., None], _STRAKE, tone)
    rust = 1 + 0.16 * sample(noise_tile(26, 1.4, 0.2), v * 6 + boat.centre * 31, u * 24)
    tone = tone * rust[..., None] * (1 - 0.3 * (np.abs(v % 0.28) < 0.03))[..., None]
    tone = np.where(cabin[..., None], _CABIN, tone)
    tall = 2.3 if boat.fishing else 0.55
    tone = np.where((cabin & (v > sheer + tall - 0.16))[..., None], _CABIN_TOP, tone)
    curve = np.clip(v / sheer, 0, 1)
    return evening.shade(
        np.clip(tone, 0.01, 0.95),
        ambient=evening.ambient * (0.28 + 0.3 * curve),
        glow=evening.ambient * 0.25 * curve,
        sun=evening.sun * 0.35 * curve,
        sodium=3.2 * smoothstep(13, 17, evening.minutes) * curve,
    )


def _rigging(u, v, pixel, boat):
    """Cover of mast, boom with its stowed sail, and stays; thin lines keep their true weight."""
    centre, length, mast = boat.centre, boat.length, boat.mast
    foot = (centre + 0.08 * length, 1.0)
    head = (foot[0], mast)
    parts = [(foot, head, 0.085)]
    if boat.fishing:
        parts += [((foot[0], 3.0), (foot[0] + 0.34 * length, mast - 0.8), 0.06),
                  (head, (centre + 0.47 * length, 1.6), 0.02)]
    else:
        parts += [((foot[0], 2.1), (centre - 0.38 * length, 2.0), 0.17),
                  (head, (centre + 0.48 * length, 1.5), 0.02),
                  (head, (centre - 0.46 * length, 1.2), 0.02),
                  ((foot[0] - 0.7, mast * 0.62), (foot[0] + 0.7, mast * 0.62), 0.035),
                  (head, (foot[0] + 0.7, mast * 0.62), 0.018),
                  (head, (foot[0] - 0.7, mast * 0.62), 0.018)]
    cover = np.zeros(np.broadcast_shapes(u.shape, v.shape), np.float32)
    for start, end, radius in parts:
        distance, _ = segment(u, v, start, end)
        edge = (radius - np.abs(distance)) / pixel + 0.5
        cover = np.maximum(cover, np.clip(edge, 0, np.minimum(1, 2 * radius / pixel)))
    return cover
