"""Kinds of frames that the limits of `grading.inspect` may be set on."""

import numpy as np

from lean_frames.camera import Canvas, course, drawn_camera, inside, texture
from lean_frames.nature import drawn_sky, paint_boat, paint_haze, paint_sky, paint_water


def begun(rng, size, clouds=None, **camera):
    """A canvas with a sky on it, and the sky."""
    canvas = Canvas(drawn_camera(rng, size, **camera))
    return canvas, paint_sky(canvas, drawn_sky(rng, canvas.camera), rng, clouds)


def across(canvas, light, texture_of, steep):
    """A texture over the whole canvas, as stops about a light."""
    y, x = (np.abs(canvas.t) * steep).astype(int), (np.abs(canvas.x)).astype(int)
    rows, columns = texture_of.shape
    return light * 2 ** texture_of[y % rows, x % columns]


def dusk(rng, size):
    """The open sea at dusk, with boats in most frames."""
    canvas, sky = begun(rng, size)
    paint_water(canvas, sky, rng, rng.uniform(1.5, 10), rng.uniform(0.01, 0.06),
                heading=rng.choice([0.0, 0.5, 1.0]))  # fmt: skip
    if rng.random() < 0.4:
        paint_haze(canvas, rng.uniform(0.2, 0.8), size[0] * rng.uniform(0.01, 0.05))
    for _ in range(int(rng.integers(0, 4))):
        paint_boat(canvas, rng)
    return canvas


def harbour(rng, size):
    """A wall along a basin, in perspective, houses on it and masts before it."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_water(canvas, sky, rng, rng.uniform(0.5, 3), heading=rng.choice([0.0, 1.0]))
    near = 1 + rng.uniform(-0.9, 0.9) * canvas.x / camera.size[1] * 1.4
    unit = camera.focal / rng.uniform(25, 150) * np.maximum(near, 0.05)
    middle = float(unit.mean())
    for _ in range(int(rng.integers(3, 14))):
        left, wide = rng.uniform(-0.7, 0.6) * camera.size[1], rng.uniform(4, 16) * middle
        top = (camera.height - rng.uniform(6, 16)) * middle
        canvas.box(left, left + wide, top, camera.height * middle, np.exp(rng.normal(-1.6, 0.7)))
        for row in np.arange(top + middle, camera.height * middle, 3 * middle):
            for side in np.arange(left + middle, left + wide - middle, 2.5 * middle):
                canvas.box(side, side + middle, row, row + 1.5 * middle, rng.choice([0.05, 0.9]))
    wall = across(canvas, rng.uniform(0.1, 0.6), 0.25 * texture(rng, (256, 256), (1, 2)), 3)
    top, foot = (camera.height - rng.uniform(1.2, 2.6)) * unit, camera.height * unit
    canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t), wall)
    for _ in range(int(rng.integers(0, 12))):
        foot, tall = rng.uniform(-0.5, 0.5) * camera.size[1], rng.uniform(8, 16) * middle
        bottom = camera.height * middle * 1.2
        canvas.pole(foot, bottom, tall, rng.normal(0, 2), max(0.2 * middle, 1), 0.05)
    return canvas


def awning(rng, size):
    """The straight edge of an awning or a parasol over the sea, the horizon often in sight."""
    canvas, sky = begun(rng, size)
    rows = size[0]
    paint_water(canvas, sky, rng, rng.uniform(1.5, 8))
    edge = rows * rng.uniform(-0.2, 0.4) + canvas.x * np.tan(np.radians(rng.uniform(-6, 6)))
    cloth = rng.choice([0.05, 0.5, 1.5]) * (1 + 0.2 * np.tanh((canvas.t - edge) / rows))
    if rng.random() < 0.4:
        cloth = cloth * np.where(np.sin(canvas.x * rng.uniform(0.1, 0.3)) > 0, 1.0, 0.5)
    canvas.lay(inside(edge - canvas.t), cloth)
    return canvas


def facade(rng, size):
    """Houses along a street: windows, a pavement, cars that hide it."""
    canvas, _ = begun(rng, size)
    rows, columns = size
    left = canvas.bounds[0]
    while left < canvas.bounds[1]:
        wide, top = columns * rng.uniform(0.12, 0.4), -rows * rng.uniform(0.2, 0.7)
        light = np.exp(rng.normal(-1.5, 0.5))
        canvas.box(left, left + wide, top, rows, light)
        step = rows * rng.uniform(0.06, 0.14)
        for row in np.arange(top + 0.5 * step, 0.2 * rows, step):
            for side in np.arange(left + 0.4 * step, left + wide - 0.7 * step, step):
                glass = light * rng.choice([0.3, 0.5, 4.0], p=[0.5, 0.3, 0.2])
                canvas.box(side, side + 0.5 * step, row, row + 0.65 * step, glass)
        left += wide
    ground = across(canvas, rng.uniform(0.05, 0.3), 0.2 * texture(rng, (256, 256), (1, 3)), 2)
    canvas.lay(inside(canvas.t - 0.25 * rows), ground)
    return canvas


def field_of_crops(rng, size):
    """A field on a slope before the sky, ploughed or sown along it."""
    canvas, _ = begun(rng, size)
    tilt = rng.uniform(-6, 6)
    row = canvas.t - canvas.x * np.tan(np.radians(tilt))
    row = row - rng.choice([0.0, 0.0, 2.0]) * course(rng, canvas.x, rng.uniform(10, 90))
    seen = texture(rng, (512, 512), (0.8, rng.uniform(4, 14)))
    y = (np.log1p(np.maximum(row, 0) / 20) * rng.uniform(60, 200)).astype(int)
    x = np.abs(canvas.x).astype(int)
    soil = rng.uniform(0.05, 0.5) * 2 ** (0.35 * seen[y % 512, x % 512])
    canvas.lay(inside(row), soil)
    return canvas


def sitter(rng, size):
    """A portrait: a head before a soft background whose border tilts."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    tilt = canvas.x * np.tan(np.radians(rng.uniform(-8, 8)))
    soft = rows * rng.uniform(0.005, 0.05)
    border = rng.uniform(-0.2, 0.2) * rows + tilt
    canvas.lay(0.5 + 0.5 * np.tanh((canvas.t - border) / soft), rng.uniform(0.05, 0.4))
    middle = rng.uniform(-0.2, 0.2) * columns
    for y, x, tall, wide, light in ((0, 0, 0.2, 0.15, 0.5), (0.6, 0, 0.42, 0.38, 0.1),
                                    (-0.1, 0, 0.13, 0.17, 0.06)):  # fmt: skip
        away = np.hypot((canvas.t - y * rows) / tall, (canvas.x - middle - x * rows) / wide) - rows
        canvas.lay(np.clip(0.5 - 0.1 * away, 0, 1), light)
    return canvas


SEAS = (dusk,)
OTHERS = (harbour, awning, facade, field_of_crops, sitter)
