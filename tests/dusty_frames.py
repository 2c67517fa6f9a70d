"""Simulated frames of a sensor with dust: skies, land, birds and lamps."""

import numpy as np

ROWS, COLUMNS = 400, 600
DUST = ((120, 80, 3.0), (300, 60, 6.0), (480, 150, 10.0), (210, 130, 1.5))
"""Column, row and radius at f/16; the discs of a wider aperture are larger and fainter."""


def place():
    return np.mgrid[0:ROWS, 0:COLUMNS] + 0.5


def disc(x, y, radius, soft=0.2):
    row, column = place()
    rise = (np.hypot(column - x, row - y) / radius - 0.85) / (soft / 2)
    return 1 / (1 + np.exp(np.clip(rise, -50, 50)))


def sky(rng, noise):
    """A sky of its own for each frame, land with texture below, birds and a lamp or two."""
    row, column = place() / COLUMNS
    a, b, c = rng.uniform(-0.6, 0.6, 3)
    light = 0.3 * np.exp(a * row + b * column + c * row * column)
    for _ in range(3):  # soft clouds
        x, y = rng.uniform(0, [COLUMNS, ROWS])
        light = light * (1 + rng.uniform(-0.2, 0.2) * disc(x, y, rng.uniform(80, 160), 1.6))
    horizon = int(ROWS * rng.uniform(0.5, 0.8))
    light[horizon:] *= 0.3 * np.exp(rng.normal(0, 0.4, light[horizon:].shape))
    for _ in range(6):
        x, y = rng.uniform(0, [COLUMNS, horizon])
        light = light * (1 - 0.6 * disc(x, y, rng.uniform(1.5, 6)))
    return light + rng.normal(0, noise, light.shape) * np.sqrt(light)


def sky_with(seed, dust=DUST, stop=16, noise=0.003, fixed=()):
    """A frame at some f-number, shape (3, rows, columns); `fixed` discs are bright."""
    rng = np.random.default_rng(seed)
    light = sky(rng, noise)
    wider = 16 / stop
    for x, y, radius in dust:
        light = light * (1 - min(0.25, 0.25 / wider**2) * disc(x, y, radius * wider, 0.3 * wider))
    for x, y, radius in fixed:
        light = light * (1 + 3 * disc(x, y, radius))
    return np.stack([0.6 * light, light, 0.8 * light]).astype(np.float32)
