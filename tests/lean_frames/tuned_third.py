"""More of them: held back until they had been judged once, the limits on steps and grain since."""

import numpy as np

from lean_frames.camera import course, inside, texture
from lean_frames.nature import paint_boat, paint_haze, paint_water
from lean_frames.tuned import across, begun


def gale(rng, size):
    """A rough sea from a small boat: foam, and waves close by that stand above the horizon."""
    canvas, sky = begun(rng, size, height=rng.uniform(1.5, 4))
    paint_water(canvas, sky, rng, rng.uniform(9, 18), rng.uniform(0.02, 0.1),
                heading=rng.uniform(-1, 1))  # fmt: skip
    foam = texture(rng, (256, 256), (1, 4))
    y = (np.log1p(np.maximum(canvas.t, 0)) * 40).astype(int)
    x = (np.abs(canvas.x) * 60 / (5 + np.maximum(canvas.t, 0))).astype(int)
    canvas.light += (canvas.t > 2) * 0.5 * np.maximum(foam[y % 256, x % 256] - 1.8, 0)
    if rng.random() < 0.5:
        crest = size[0] * rng.uniform(-0.01, 0.06) - size[0] * 0.01 * course(rng, canvas.x, 60)
        canvas.lay(inside(canvas.t - crest) * (canvas.t < crest + 4), rng.uniform(0.05, 0.3))
    return canvas


def long_lens(rng, size):
    """The sun setting in the sea, by a long lens; a ship far away."""
    canvas, sky = begun(rng, size, focal=max(size) * rng.uniform(3, 7))
    radius = canvas.camera.focal * 0.0047
    middle, row = rng.uniform(-0.4, 0.4) * size[1], -radius * rng.uniform(-0.8, 3)
    disc = np.clip(radius + 0.5 - np.hypot(canvas.x - middle, canvas.t - row), 0, 1)
    canvas.lay(disc, 6.0)
    paint_water(canvas, sky, rng, rng.uniform(1, 8), heading=rng.uniform(-1, 1))
    paint_haze(canvas, rng.uniform(0, 0.7), size[0] * rng.uniform(0.01, 0.06))
    for _ in range(int(rng.integers(0, 3))):
        paint_boat(canvas, rng, rng.normal(0, 1))
    return canvas


def cliff(rng, size):
    """The sea from high above, a meadow in front of it in some frames."""
    canvas, sky = begun(rng, size, height=rng.uniform(15, 90))
    paint_water(canvas, sky, rng, rng.uniform(2, 10), heading=rng.uniform(-1, 1))
    if rng.random() < 0.5:
        edge = size[0] * rng.uniform(0.05, 0.4) + canvas.x * np.tan(np.radians(rng.normal(0, 8)))
        edge = edge + size[0] * 0.01 * course(rng, canvas.x, rng.uniform(3, 40))
        grass = across(canvas, rng.uniform(0.05, 0.2), 0.4 * texture(rng, (256, 256), 0.8), 1)
        canvas.lay(inside(canvas.t - edge), grass)
    return canvas


def islands(rng, size):
    """The sea with islands and capes at any distance, each with its waterline below the horizon."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_water(canvas, sky, rng, rng.uniform(1, 8), heading=rng.uniform(-1, 1))
    count = int(rng.integers(1, 5))
    for far in np.sort(np.exp(rng.uniform(np.log(200), np.log(9000), count)))[::-1]:
        foot, wide = camera.focal * camera.height / far, rng.uniform(0.1, 0.7) * size[1]
        off = np.abs(canvas.x - rng.uniform(-0.6, 0.6) * size[1]) / wide
        shape = np.sqrt(np.maximum(1 - np.square(off), 0)) * (1 + 0.3 * course(rng, canvas.x, 15))
        top = foot - size[0] * rng.uniform(0.01, 0.12) * shape
        canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t) * (off < 1),
                   rng.uniform(0.04, 0.5))  # fmt: skip
    return canvas


def wind_line(rng, size):
    """Water from above with no horizon in sight: the straight border of a gust or of a wake."""
    canvas, sky = begun(rng, size, focal=1.5 * max(size), row=-size[0] * rng.uniform(0.6, 1.2))
    paint_water(canvas, sky, rng, rng.uniform(1, 5), heading=rng.uniform(-1, 1))
    row = canvas.t - canvas.camera.size[0] * rng.uniform(0.9, 1.3)
    row = row - canvas.x * np.tan(np.radians(rng.uniform(-8, 8)))
    canvas.light *= 2 ** (rng.uniform(0.3, 1.5) * inside(-row))
    return canvas


def mole(rng, size):
    """A mole of blocks that hides the sea, in perspective, a lamp on it and water before it."""
    canvas, sky = begun(rng, size)
    camera, rows = canvas.camera, size[0]
    paint_water(canvas, sky, rng, rng.uniform(1, 6), heading=rng.uniform(-1, 1))
    near = np.maximum(1 + rng.uniform(-0.9, 0.9) * canvas.x / size[1] * 1.4, 0.05)
    unit = camera.focal / rng.uniform(20, 200) * near
    top = (camera.height - rng.uniform(1.0, 1.5) * camera.height) * unit
    block = (canvas.t - top) / unit
    courses = 0.3 * (np.sin(block * rng.uniform(3, 9)) > 0.9)
    wall = rng.uniform(0.08, 0.7) * 2 ** -courses
    wall = across(canvas, wall, 0.15 * texture(rng, (256, 256), (1, 2)), 2)
    canvas.lay(inside(block * unit) * inside(camera.height * unit - canvas.t), wall)
    foot = rng.uniform(-0.4, 0.4) * size[1]
    bottom = float(np.interp(foot, canvas.x[0], top[0]))
    canvas.pole(foot, bottom, 0.3 * rows, rng.normal(0, 2), 4, 0.1)
    return canvas


def sail(rng, size):
    """A boat close by that heels: boom, mast and sail across the sea, shrouds along the mast."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(3, 10), heading=rng.uniform(-1, 1))
    for _ in range(int(rng.integers(0, 3))):
        paint_boat(canvas, rng)
    heel, foot = rng.uniform(-12, 12), rng.uniform(-0.5, 0.5) * columns
    bottom = rows * rng.uniform(0.1, 0.5)
    boom = bottom - canvas.x * np.tan(np.radians(rng.normal(0, 5))) - 0.05 * rows
    mast = foot + np.tan(np.radians(heel)) * (bottom - canvas.t)
    side = rng.choice([-1, 1])
    reach = (canvas.t + rows) * rng.uniform(0.2, 0.6)
    cloth = inside(boom - canvas.t) * inside(side * (canvas.x - mast)) * inside(
        reach - side * (canvas.x - mast))  # fmt: skip
    canvas.lay(cloth, rng.uniform(0.2, 1.5))
    for off, wide in ((0, 5), (0.06, 1), (-0.06, 1)):
        canvas.pole(foot + off * columns, bottom, 2 * rows, heel - 30 * off, wide, 0.06)
    return canvas


def bridge(rng, size):
    """A bridge over a river, its deck in perspective, piers below and hangers above it."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(0.5, 4))
    near = np.maximum(1 + rng.uniform(-0.8, 0.8) * canvas.x / columns * 1.4, 0.1)
    top = -rows * rng.uniform(-0.02, 0.25) * near
    thick = rows * rng.uniform(0.01, 0.05) * near
    canvas.lay(inside(canvas.t - top) * inside(top + thick - canvas.t), rng.uniform(0.05, 0.5))
    for foot in np.arange(-0.6, 0.6, rng.uniform(0.08, 0.4)) * columns:
        edge = float(np.interp(foot, canvas.x[0], (top + thick)[0]))
        wide = rows * rng.uniform(0.01, 0.03)
        canvas.box(foot - wide, foot + wide, edge, rows * rng.uniform(0.03, 0.15), 0.15)
        canvas.pole(foot, edge, rows * 0.3, 0, 2, 0.1)
    return canvas


def forest(rng, size):
    """Trunks before a slope of undergrowth, each with its own lean."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    ground = rows * rng.uniform(0.1, 0.3) + canvas.x * np.tan(np.radians(rng.uniform(-12, 12)))
    leaves = across(canvas, 0.2, 0.8 * texture(rng, (256, 256), 1.5), 1)
    canvas.lay(inside(canvas.t - ground), leaves)
    for _ in range(int(rng.integers(5, 40))):
        foot = rng.uniform(-0.6, 0.6) * columns
        bottom = float(np.interp(foot, canvas.x[0], ground[0])) + rows * rng.uniform(-0.1, 0.3)
        canvas.pole(foot, bottom, 2 * rows, rng.normal(0, 2.5), rows * rng.uniform(0.005, 0.05),
                    rng.uniform(0.02, 0.1))  # fmt: skip
    return canvas


def stairs(rng, size):
    """A flight of steps from below or from one side, a rail, and people on it."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    away = 1 + rng.uniform(-0.5, 0.5) * canvas.x / columns
    row = (canvas.t + rows * rng.uniform(0.1, 0.4)) / away
    row = row - canvas.x * np.tan(np.radians(rng.normal(0, 2)))
    step = np.log1p(np.maximum(row, 0) / (0.2 * rows)) * rng.uniform(8, 40)
    stone = rng.uniform(0.1, 0.6) * np.where(step % 1 < 0.5, 1.0, rng.uniform(0.3, 0.8))
    stone = across(canvas, stone, 0.1 * texture(rng, (256, 256), (1, 3)), 2)
    canvas.lay(inside(row), stone)
    for _ in range(int(rng.integers(0, 5))):
        foot, bottom = rng.uniform(-0.5, 0.5) * columns, rows * rng.uniform(0.1, 0.5)
        canvas.pole(foot, bottom, rows * 0.25, rng.normal(0, 4), rows * 0.06, 0.06)
    return canvas


def table(rng, size):
    """A person at a table by a window: the edge of the table, its grain, and a frame behind."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    for foot in (-0.3 * columns, 0.32 * columns):
        canvas.box(foot - 6, foot + 6, -2 * rows, 2 * rows, 0.08)
    edge = rows * rng.uniform(0.05, 0.3) + canvas.x * np.tan(np.radians(rng.uniform(-8, 8)))
    below = np.maximum(canvas.t - edge, 0)
    grain = texture(rng, (512, 512), (0.8, 20))
    y = (np.sqrt(below) * rng.uniform(5, 20)).astype(int) % 512
    canvas.lay(inside(canvas.t - edge),
               0.3 * 2 ** (0.4 * grain[y, np.abs(canvas.x).astype(int) % 512]))  # fmt: skip
    middle = rng.uniform(-0.2, 0.2) * columns
    for at, tall, wide in ((-0.2, 0.2, 0.15), (0.35, 0.4, 0.35)):
        off = np.hypot((canvas.t - at * rows) / tall, (canvas.x - middle) / wide) - rows
        canvas.lay(np.clip(0.5 - 0.2 * off, 0, 1), rng.uniform(0.05, 0.6))
    return canvas


def mirror_lake(rng, size):
    """A lake that mirrors its hills, its far bank in perspective or quite level."""
    canvas, sky = begun(rng, size)
    rows = size[0]
    bank = rows * rng.uniform(0.01, 0.06) * np.maximum(
        1 + rng.uniform(-0.9, 0.9) * canvas.x / size[1] * 1.4, 0.05)  # fmt: skip
    tall = rows * rng.uniform(0.05, 0.3) * (1 + 0.4 * course(rng, canvas.x, rng.uniform(20, 80)))
    hill = rng.uniform(0.03, 0.3)
    paint_water(canvas, sky, rng, rng.uniform(0.05, 0.6), 0.01)
    ripple = rows * 0.004 * texture(rng, (256, 256), (1, 8))
    y, x = (np.abs(canvas.t) * 2).astype(int) % 256, (np.abs(canvas.x)).astype(int) % 256
    canvas.lay(inside(bank + tall + ripple[y, x] - canvas.t) * inside(canvas.t - bank), 0.7 * hill)
    canvas.lay(inside(canvas.t - bank + tall) * inside(bank - canvas.t), hill)
    return canvas


def plain(rng, size):
    """Flat land or snow to the horizon, with a road and posts that lean by themselves."""
    canvas, _ = begun(rng, size)
    rows, columns = size
    far = texture(rng, (512, 512), (1, 3))
    below = np.maximum(canvas.t, 0.5)
    y, x = (4000 / below).astype(int) % 512, (np.abs(canvas.x) * 200 / below).astype(int) % 512
    canvas.lay(inside(canvas.t), rng.uniform(0.05, 0.9) * 2 ** (rng.uniform(0.05, 0.4) * far[y, x]))
    middle = rng.uniform(-0.3, 0.3) * columns
    road = below * rng.uniform(0.1, 0.5) - np.abs(canvas.x - middle)
    canvas.lay(inside(canvas.t) * inside(road), 0.2)
    for _ in range(int(rng.integers(0, 8))):
        foot, bottom = rng.uniform(-0.5, 0.5) * columns, rows * rng.uniform(0.01, 0.3)
        canvas.pole(foot, bottom, 2 * bottom, rng.normal(0, 2.5), max(0.04 * bottom, 1), 0.05)
    return canvas


SEAS = (gale, long_lens, cliff)
OTHERS = (islands, wind_line, mole, sail, bridge, forest, stairs, table, mirror_lake, plain)
