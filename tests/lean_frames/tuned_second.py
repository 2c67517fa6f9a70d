"""More of them: held back until they had been judged once, the limits on rails and slats since."""

import numpy as np

from lean_frames.camera import course, inside, texture
from lean_frames.nature import paint_boat, paint_haze, paint_water
from lean_frames.tuned import across, begun


def swell(rng, size):
    """A swell that runs in at an angle, gusts of wind on it."""
    canvas, sky = begun(rng, size)
    paint_water(canvas, sky, rng, rng.uniform(3, 14), rng.uniform(0.01, 0.1),
                heading=rng.uniform(-1.4, 1.4), spread=float(rng.choice([2, 6])))  # fmt: skip
    gusts = texture(rng, (256, 256), (1.5, 6))
    y = (np.log1p(np.maximum(canvas.t, 0)) * 25).astype(int)
    x = (np.abs(canvas.x) * 0.4).astype(int)
    canvas.light *= 2 ** (rng.uniform(0, 0.3) * gusts[y % 256, x % 256] * (canvas.t > 0))
    return canvas


def moonlight(rng, size):
    """A calm sea late in the evening, boats at anchor with their masts a little off."""
    canvas, sky = begun(rng, size, clouds=int(rng.integers(0, 2)))
    paint_water(canvas, sky, rng, rng.uniform(0.3, 2), 0.005, heading=rng.uniform(-1, 1))
    for _ in range(int(rng.integers(0, 6))):
        paint_boat(canvas, rng, rng.normal(0, 1))
    return canvas


def fog_at_sea(rng, size):
    """The sea in haze or in fog, which may hide the horizon."""
    canvas, sky = begun(rng, size, clouds=0)
    paint_water(canvas, sky, rng, rng.uniform(1, 6), rng.uniform(0.01, 0.1))
    paint_haze(canvas, rng.uniform(0.5, 1), size[0] * rng.uniform(0.02, 0.15))
    for _ in range(int(rng.integers(0, 3))):
        paint_boat(canvas, rng)
    return canvas


def far_hills(rng, size):
    """The sea with hills along one side, whose shore comes nearer: it is in perspective."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_water(canvas, sky, rng, rng.uniform(1, 8), heading=rng.uniform(-1, 1))
    side, begins = rng.choice([-1, 1]), rng.uniform(-0.6, 0.4) * camera.size[1]
    along = np.maximum(side * canvas.x - begins, 0) / camera.size[1]
    for _ in range(int(rng.integers(1, 3))):
        far = rng.uniform(300, 20000) / (1 + rng.uniform(0, 6) * along)
        foot = camera.focal * camera.height / far
        tall = camera.focal * rng.uniform(20, 400) / far
        top = foot - tall * np.clip(along * rng.uniform(2, 12), 0, 1) * (
            1 + 0.3 * course(rng, canvas.x, rng.uniform(5, 60)))  # fmt: skip
        light = rng.uniform(0.05, 0.6)
        canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t) * (along > 0), light)
    return canvas


def deck_rail(rng, size):
    """The sea past the rail of a boat that heels: bars and stanchions, all turned with it."""
    canvas, sky = begun(rng, size)
    paint_water(canvas, sky, rng, rng.uniform(2, 9))
    heel, rows = rng.uniform(-7, 7), size[0]
    row = canvas.t - canvas.x * np.tan(np.radians(heel)) - rows * rng.uniform(-0.3, 0.3)
    wide, light = rows * rng.uniform(0.006, 0.03), rng.choice([0.03, 0.3, 1.2])
    for bar in range(int(rng.integers(1, 4))):
        canvas.lay(inside(wide / 2 - np.abs(row - bar * rows * rng.uniform(0.09, 0.15))), light)
    for foot in np.arange(canvas.bounds[0], canvas.bounds[1], size[1] * rng.uniform(0.15, 0.5)):
        top = rows * 0.5 + foot * np.tan(np.radians(heel))
        canvas.pole(foot, top, rows * 0.6, -heel, wide, light)
    return canvas


def jetty(rng, size):
    """A jetty, a pontoon or a ramp before water: from one side, or right across at any height."""
    canvas, sky = begun(rng, size)
    camera, rows = canvas.camera, size[0]
    paint_water(canvas, sky, rng, rng.uniform(1, 6))
    if rng.random() < 0.5:
        paint_haze(canvas, 1.0, rows * rng.uniform(0.02, 0.1))
    away = 1 + rng.choice([-1, 1]) * rng.uniform(0.2, 0.95) * canvas.x / camera.size[1] * 1.3
    level, thick = rng.uniform(-0.02, 0.12) * rows, rng.uniform(0.005, 0.08) * rows
    slope = canvas.x * np.tan(np.radians(rng.normal(0, 2)))
    top = level * away + slope
    wood = across(canvas, rng.choice([0.04, 0.2, 0.8]), 0.2 * texture(rng, (256, 256), (1, 9)), 4)
    ends = inside(rng.choice([-1, 1]) * canvas.x + size[1] * rng.choice([0.2, 1, 1]))
    canvas.lay(inside(canvas.t - top) * inside(top + thick * away - canvas.t) * ends, wood)
    for foot in np.arange(-0.5, 0.5, rng.uniform(0.05, 0.3)) * size[1]:
        bottom = float(np.interp(foot, canvas.x[0], (top + thick * away)[0]))
        canvas.pole(foot, bottom + 0.15 * rows, 0.2 * rows, rng.normal(0, 1.5),
                    rows * rng.uniform(0.006, 0.02), 0.05)  # fmt: skip
    return canvas


def far_bank(rng, size):
    """A river or a lake whose other bank is straight, low and in perspective."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_water(canvas, sky, rng, rng.uniform(0.5, 5), heading=rng.uniform(-1, 1))
    turn = rng.uniform(-0.9, 0.9)
    near = np.maximum(1 + turn * canvas.x / camera.size[1] * 1.3, 0.03)
    foot = camera.focal * camera.height / rng.uniform(60, 600) * near
    tall = foot * rng.uniform(0.3, 4) * (1 + rng.choice([0, 0, 0.3]) * course(rng, canvas.x, 12))
    canvas.lay(inside(canvas.t - foot + tall) * inside(foot - canvas.t), rng.uniform(0.03, 0.4))
    return canvas


def sloping_street(rng, size):
    """A street that climbs: upright houses on a steep kerb, courses and roofs in perspective."""
    canvas, _ = begun(rng, size)
    rows, columns = size
    climb = np.tan(np.radians(rng.uniform(-15, 15)))
    left = canvas.bounds[0]
    while left < canvas.bounds[1]:
        wide, light = columns * rng.uniform(0.08, 0.25), np.exp(rng.normal(-1.6, 0.6))
        foot = 0.2 * rows + climb * left
        top = foot - rows * rng.uniform(0.25, 0.6)
        canvas.box(left, left + wide, top, rows, light)
        step = wide / rng.integers(2, 5)
        for side in left + step * (np.arange(round(wide / step)) + 0.25):
            for row in np.arange(top + 0.3 * step, foot - step, 1.6 * step):
                canvas.box(side, side + 0.5 * step, row, row + 0.9 * step,
                           light * rng.choice([0.3, 3]))  # fmt: skip
        left += wide
    kerb = 0.2 * rows + climb * canvas.x
    canvas.lay(inside(canvas.t - kerb), rng.uniform(0.05, 0.3))
    for _ in range(int(rng.integers(0, 5))):
        foot = rng.uniform(-0.5, 0.5) * columns
        canvas.pole(foot, 0.3 * rows + climb * foot, 0.5 * rows, rng.normal(0, 2.5), 4, 0.04)
    return canvas


def masts(rng, size):
    """A marina close by: masts and shrouds that lean by themselves, often all to one side."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, 1.0)
    ashore = rows * rng.uniform(0.02, 0.1)
    trees = ashore - rows * (0.12 + 0.03 * course(rng, canvas.x, 9))
    canvas.lay(inside(canvas.t - trees) * inside(ashore - canvas.t), 0.08)
    common = rng.normal(0, 1.5)
    for _ in range(int(rng.integers(3, 16))):
        foot, bottom = rng.uniform(-0.5, 0.5) * columns, rows * rng.uniform(0.08, 0.3)
        lean, tall = common + rng.normal(0, 1.2), rows * rng.uniform(0.3, 0.8)
        canvas.pole(foot, bottom, tall, lean, rows * rng.uniform(0.004, 0.015), 0.05)
        for side in (-1, 1):
            canvas.pole(foot + side * 0.06 * tall, bottom, tall, lean - side * 3.4, 0.8, 0.1)
        wide, top = 0.2 * tall, bottom - 0.03 * rows
        canvas.box(foot - wide, foot + wide, top, bottom + 0.02 * rows, rng.choice([0.05, 0.9]))
    return canvas


def lamps(rng, size):
    """Night: lamps along a shore that nobody sees, and their paths on the water."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    canvas.light[:] = 0.004
    shore = rows * rng.uniform(0, 0.1) + canvas.x * np.tan(np.radians(rng.uniform(-5, 5)))
    for _ in range(int(rng.integers(5, 60))):
        at = rng.uniform(-0.55, 0.55) * columns
        row = float(np.interp(at, canvas.x[0], shore[0]))
        light, wide = np.exp(rng.normal(0, 1)), rows * rng.uniform(0.003, 0.01)
        up = row - rows * rng.uniform(0, 0.08)
        canvas.box(at - wide, at + wide, up - wide, up + wide, light)
        for below in np.arange(row + 4, row + rows * rng.uniform(0.05, 0.4), 3):
            off = rng.normal(0, 1.5)
            canvas.box(at - wide + off, at + wide + off, below, below + 2,
                       0.15 * light * rng.random())  # fmt: skip
    return canvas


def blinds(rng, size):
    """A person before blinds, a stair or shelves: level lines in a room, in perspective."""
    canvas, _ = begun(rng, size, clouds=0)
    rows = size[0]
    away = 1 + rng.uniform(-0.6, 0.6) * canvas.x / size[1]
    row = (canvas.t - rows * rng.uniform(-0.3, 0.3)) / away
    row = row - canvas.x * np.tan(np.radians(rng.uniform(-5, 5)))
    lines = np.sin(row * rng.uniform(0.1, 1.2) + 0.3 * texture(rng, (1, canvas.x.size), (0, 40)))
    begins = rng.uniform(-0.2, 0.2) * rows
    canvas.lay(inside(row - begins), 0.3 * 2 ** (rng.uniform(0.2, 1.2) * lines))
    middle = rng.uniform(-0.3, 0.3) * size[1]
    for y, tall, wide in ((0, 0.2, 0.15), (0.6, 0.42, 0.35)):
        away = np.hypot((canvas.t - y * rows) / tall, (canvas.x - middle) / wide) - rows
        canvas.lay(np.clip(0.5 - 0.2 * away, 0, 1), rng.uniform(0.05, 0.6))
    return canvas


def wet_sand(rng, size):
    """A beach that slopes: wet sand in level streaks, and the sea or a dune behind it."""
    canvas, sky = begun(rng, size)
    rows = size[0]
    paint_water(canvas, sky, rng, rng.uniform(2, 8))
    edge = rows * rng.uniform(0.04, 0.3) + canvas.x * np.tan(np.radians(rng.uniform(-7, 7)))
    edge = edge + rng.choice([0, 0.5, 3]) * course(rng, canvas.x, rng.uniform(10, 80))
    sand = across(canvas, rng.uniform(0.2, 0.9), 0.25 * texture(rng, (512, 512), (1, 12)), 1.5)
    canvas.lay(inside(canvas.t - edge), sand)
    if rng.random() < 0.5:
        dune = edge - rows * rng.uniform(0.05, 0.3)
        canvas.lay(inside(canvas.t - dune) * inside(edge - canvas.t), rng.uniform(0.2, 0.9))
    return canvas


SEAS = (swell, moonlight, fog_at_sea)
PARTLY = (far_hills, deck_rail)
OTHERS = (jetty, far_bank, sloping_street, masts, lamps, blinds, wet_sand)
