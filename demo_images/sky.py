"""Sky, clouds lit from below, the sun, and hills that fade into haze."""

import numpy as np

from paint import lay, mix, noise_tile, sample, smoothstep

SUN_ACROSS = 0.375
HAZE_LENGTH = 3200.0  # metres over which haze takes 63 %


def clear_sky(evening, across, up):
    """Camera RGB of the cloudless sky, shapes broadcast to (rows, columns, 3)."""
    up = np.maximum(up, 0)
    away = np.abs(across - SUN_ACROSS)
    dusk = evening.dusk
    body = evening.ambient * (0.66 + 0.3 * np.exp(-up / 0.2))
    height = 1 - np.exp(-up / 0.2)
    toward = 0.2 - 0.12 * dusk + (1 - 0.25 * dusk) * np.exp(-((away / 0.5) ** 2))
    low = evening.ambient * (1.7 - 0.7 * dusk) * toward * np.exp(-up / (0.045 + 0.02 * toward))
    high = evening.ambient * (0.75 - 0.68 * dusk) * toward * np.exp(-up / 0.19)
    return (
        (body * (1 - height))[..., None] * evening.white("ambient")
        + (body * height)[..., None] * evening.white("zenith")
        + low[..., None] * evening.white("ember")
        + high[..., None] * evening.white("glow")
    )


def paint_sky(canvas, view, evening):
    """Fill the canvas above the horizon, and a little below it, with sky and clouds."""
    rows = np.flatnonzero(view.up > -0.02)
    up, across = view.up[rows, None], view.across[None]
    sky = clear_sky(evening, across, up)
    for deck in _CLOUDS:
        sky = _clouds(sky, evening, across, up, **deck)
    sky += _sun(evening, across, up)
    canvas[rows] = sky


def _clouds(sky, evening, across, up, seed, height, cover, scale, opacity):
    """One layer of thin cloud, seen in perspective, with its lower edges catching the glow."""
    flat = 1 / (np.maximum(up, 0) + height)
    u, v = across * flat * scale + evening.minutes * 0.9, flat * scale
    tile = noise_tile(seed, 1.75, 0.45)
    density = sample(tile, u, v * 1.7)
    below = sample(tile, u, v * 1.7 + 5)
    detail = sample(noise_tile(seed + 1, 1.2, 0.5), u * 4, v * 7)
    amount = smoothstep(cover, cover + 1.25, density + 0.22 * detail)
    amount = amount * smoothstep(0.0, 0.05, up) * opacity
    edge = np.clip(0.55 + 0.5 * (density - below), 0.1, 1.4)
    near_sun = 0.12 + np.exp(-(((across - SUN_ACROSS) / 0.55) ** 2)) * np.exp(-up / 0.3)
    warm = evening.ambient * near_sun * edge * (2.5 - 2.15 * evening.dusk)
    cold = evening.ambient * (0.42 + 0.12 * edge)
    colour = (
        cold[..., None] * mix(evening.white("ambient"), evening.white("zenith"), 0.3)
        + (warm * 0.62)[..., None] * evening.white("ember")
        + (warm * 0.38)[..., None] * evening.white("glow")
    )
    return mix(sky, colour, amount)


def _sun(evening, across, up):
    """Disc and aureole; cut off where the sea's horizon hides them."""
    altitude = np.tan(np.radians(evening.altitude))
    distance = np.hypot(across - SUN_ACROSS, up - altitude)
    disc = smoothstep(0.0052, 0.0042, distance) * evening.sun * 90
    strength = evening.ambient * smoothstep(-2.2, 1.0, evening.altitude)
    aureole = strength * (3.2 * np.exp(-distance / 0.035) + 1.5 * np.exp(-distance / 0.14))
    return disc[..., None] * evening.white("sun") + aureole[..., None] * mix(
        evening.white("ember"), evening.white("sun"), np.exp(-distance / 0.05)
    )


def haze(radiance, depth, evening, across):
    """Fade a surface into the light of the air in front of it."""
    clear = np.exp(-np.asarray(depth) / HAZE_LENGTH)
    air = clear_sky(evening, across, np.float32(0.04)) * 0.5
    return mix(air, radiance, clear)


def paint_hills(canvas, view, evening):
    """Ridges behind the town, the farthest first."""
    for ridge in _RIDGES:
        _ridge(canvas, view, evening, **ridge)


def _ridge(canvas, view, evening, seed, depth, crest, ends, wood):
    across = view.across + view.x / depth
    bumps = sample(noise_tile(seed, 1.9), across * 420 + 300, seed)
    rough = sample(noise_tile(seed, 1.1), across * 2600, 17)
    left, right = ends
    envelope = smoothstep(left - 0.35, left + 0.1, across) * smoothstep(right, right - 0.5, across)
    top = crest * envelope * (1 + 0.16 * bumps) + 0.0016 * rough * wood - 0.004
    rows = np.flatnonzero((view.up < top.max()) & (view.up > -0.03))
    up = view.up[rows, None]
    u, v = across[None] * 900, up * 1500
    clump = sample(noise_tile(seed + 5, 1.35), u, v)
    leaf = sample(noise_tile(seed + 6, 0.9), u * 2.3, v * 2.3)
    slope = sample(noise_tile(seed + 5, 1.35), u + 6, v - 3) - clump
    meadow = smoothstep(-0.5, 0.8, clump)
    albedo = mix(np.array(_WOOD), np.array(_MEADOW), meadow) * (1 + 0.16 * leaf)[..., None]
    lit = np.clip(0.55 + 0.35 * slope * 4, 0.1, 1.6)
    radiance = evening.shade(
        np.clip(albedo, 0.01, 1),
        ambient=evening.ambient * (0.52 + 0.1 * clump),
        glow=evening.ambient * 0.25 * lit,
        sun=evening.sun * 0.35 * lit,
    )
    if depth < 2000:
        radiance = radiance + _farm_lights(evening, view, up, across[None])
    radiance = haze(radiance, depth, evening, view.across[None])
    lay(canvas, rows, radiance, up < top)


def paint_gulls(canvas, view, evening):
    """A few gulls over the water while it is light, dark against the sky."""
    rng = np.random.default_rng(9)
    for _ in range(9):
        x, y = rng.uniform(0.02, 0.46), rng.uniform(0.06, 0.22)
        span, bank, beat = rng.uniform(0.004, 0.010), rng.uniform(-0.4, 0.4), rng.uniform(0.2, 0.6)
        wander = np.sin(evening.minutes * rng.uniform(0.2, 0.9) + rng.uniform(0, 6))
        if evening.minutes > 32:
            continue
        columns = np.flatnonzero(np.abs(view.across - x - 0.06 * wander) < span)
        rows = np.flatnonzero(np.abs(view.up - y) < span)
        u = (view.across[columns] - x - 0.06 * wander)[None] / span
        v = (view.up[rows, None] - y) / span - bank * u
        wing = beat * (np.abs(u) - 1.1 * u * u) * 1.6
        thick = 0.07 * (1 - np.abs(u)) + 0.10 * np.exp(-((u / 0.12) ** 2))
        bird = evening.shade((0.3, 0.3, 0.3), ambient=evening.ambient * 0.4)
        lay(canvas, np.ix_(rows, columns), bird, np.abs(v - wing) < thick)


def _farm_lights(evening, view, up, across):
    """Scattered lamps of houses on the hillside, each a few canvas pixels wide."""
    rng = np.random.default_rng(77)
    light = np.zeros((*np.broadcast_shapes(up.shape, across.shape), 3), np.float32)
    for _ in range(46):
        x, y = rng.uniform(-0.45, 0.2), rng.uniform(0.02, 0.15) * rng.uniform(0.4, 1)
        minute, lamp = rng.uniform(14, 44), rng.choice(["tungsten", "warm_led", "sodium"])
        level = rng.uniform(150, 700)
        if evening.minutes < minute:
            continue
        near_x = np.flatnonzero(np.abs(across[0] - x) < 3e-3)
        near_y = np.flatnonzero(np.abs(up[:, 0] - y) < 3e-3)
        distance = np.hypot(across[:, near_x] - x, up[near_y] - y)
        spot = level * np.exp(-((distance * view.focal) ** 2))
        light[np.ix_(near_y, near_x)] += spot[..., None] * evening.white(str(lamp))
    return light


_WOOD, _MEADOW = (0.035, 0.06, 0.025), (0.11, 0.12, 0.05)
_CLOUDS = (
    dict(seed=21, height=0.10, cover=0.15, scale=95.0, opacity=0.85),
    dict(seed=33, height=0.16, cover=0.55, scale=170.0, opacity=0.6),
)
_RIDGES = (
    dict(seed=51, depth=5200, crest=0.060, ends=(-0.2, 0.62), wood=0.4),
    dict(seed=57, depth=2400, crest=0.125, ends=(-0.75, 0.42), wood=0.8),
    dict(seed=64, depth=900, crest=0.165, ends=(-1.1, 0.30), wood=1.5),
)
