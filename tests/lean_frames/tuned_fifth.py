"""More of them: drawn before they were judged once, the limits on grain and on reeds since."""

import numpy as np

from lean_frames.camera import course, inside, texture
from lean_frames.nature import paint_boat, paint_haze, paint_water
from lean_frames.tuned import across, begun


def nearer(rng, canvas, most=0.9):
    """How much nearer each column of something straight is, seen in perspective."""
    return np.maximum(1 + rng.uniform(-most, most) * canvas.x / canvas.camera.size[1] * 1.4, 0.05)


def paint_sea(canvas, sky, rng, calmest=0.5, roughest=9.0):
    """Paint water of a swell from any side."""
    paint_water(canvas, sky, rng, rng.uniform(calmest, roughest), rng.uniform(0.01, 0.08),
                heading=rng.uniform(-1.4, 1.4), spread=float(rng.choice([2, 4])))  # fmt: skip


def heeled_marina(rng, size):
    """A harbour in a wind: every mast and every hull heels to one side, a mole in perspective
    behind them, the sea beyond it in some frames."""
    canvas, sky = begun(rng, size)
    camera, columns = canvas.camera, size[1]
    paint_sea(canvas, sky, rng, 0.5, 4)
    unit = camera.focal / rng.uniform(60, 500) * nearer(rng, canvas)
    top, foot = (camera.height - rng.uniform(0.2, 3)) * unit, camera.height * unit
    stone = across(canvas, rng.uniform(0.05, 0.5), 0.3 * texture(rng, (256, 256), (1, 2)), 2)
    canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t), stone)
    heel = rng.normal(0, 4)
    for _ in range(int(rng.integers(4, 18))):
        near = camera.focal / rng.uniform(15, 60)
        bottom, middle = camera.height * near, rng.uniform(-0.5, 0.5) * columns
        long, lean = rng.uniform(4, 11) * near, heel + rng.normal(0, 0.6)
        deck = bottom - 0.9 * near + (canvas.x - middle) * np.tan(np.radians(lean * 0.3))
        hull = inside(canvas.t - deck) * inside(bottom - canvas.t)
        hull = hull * inside(long / 2 - np.abs(canvas.x - middle))
        canvas.lay(hull, rng.choice([0.05, 0.2, 0.9]))
        tall, wide = rng.uniform(7, 15) * near, max(0.15 * near, 0.8)
        canvas.pole(middle, bottom - 0.8 * near, tall, lean, wide, rng.choice([0.06, 0.7]))
        for side in (-0.4, 0.4):
            canvas.pole(middle + side * long, bottom - 0.8 * near, 0.9 * tall,
                        lean - side * 0.8 * np.degrees(long / tall), 0.7, 0.1)  # fmt: skip
    return canvas


def shelf_cloud(rng, size):
    """A shelf of cloud over the sea: its dark, straight edge slants; rain may hide the horizon."""
    canvas, sky = begun(rng, size, clouds=int(rng.integers(0, 2)))
    rows, columns = size
    edge = -rows * rng.uniform(0.02, 0.4) + canvas.x * np.tan(np.radians(rng.uniform(-7, 7)))
    edge = edge + rows * rng.choice([0, 0.002, 0.01]) * course(rng, canvas.x, rng.uniform(4, 60))
    body = np.clip((edge - canvas.t) / rng.uniform(0.7, 12) + 0.5, 0, 1)
    folds = texture(rng, (256, 256), (2, 12))
    y, x = (np.abs(canvas.t - edge) * 0.5).astype(int), (np.abs(canvas.x) * 0.5).astype(int)
    dark = 2 ** (-rng.uniform(0.4, 2.2) + rng.uniform(0, 0.3) * folds[y % 256, x % 256])
    canvas.light *= 1 + body * (dark - 1)
    paint_sea(canvas, sky, rng, 2, 14)
    if rng.random() < 0.5:
        deep = np.maximum(canvas.t, 0) / rows / rng.uniform(0.01, 0.1)
        air = rng.uniform(0.5, 1) * np.exp(-deep) * (canvas.t > edge)
        canvas.lay(air, rng.uniform(0.15, 0.6))
    return canvas


def wake(rng, size):
    """The sea over the stern: a wake that spreads, its borders straight and slanting, foam in it;
    a taffrail that heels in some frames."""
    canvas, sky = begun(rng, size, height=rng.uniform(1.5, 9))
    rows, columns = size
    paint_sea(canvas, sky, rng, 1, 9)
    down, vanish = np.maximum(canvas.t, 0), rng.uniform(-0.4, 0.4) * columns
    drift, spread = rng.uniform(-1.5, 1.5), rng.uniform(0.3, 4)
    off = (canvas.x - vanish - drift * down) / (spread * down + 0.5)
    foam = texture(rng, (256, 256), (1, 2))
    y = (np.log1p(down) * 40).astype(int) % 256
    x = (np.abs(off) * 90).astype(int) % 256
    broken = np.clip(0.5 + 0.6 * foam[y, x], 0, 1) * np.exp(-(off**4)) * rng.uniform(0.1, 0.9)
    canvas.lay(broken * (canvas.t > 0.5), rng.uniform(0.5, 1.1))
    for side in (-1, 1):
        arm = np.abs(off - side * rng.uniform(1, 2.2)) * (spread * down + 0.5)
        canvas.light *= 2 ** (rng.uniform(0, 1) * np.exp(-(arm / (0.03 * down + 1)) ** 2)
                              * (canvas.t > 0))  # fmt: skip
    if rng.random() < 0.4:
        heel = rng.uniform(-6, 6)
        bar = rows * rng.uniform(0.05, 0.4) + canvas.x * np.tan(np.radians(heel))
        canvas.lay(inside(rows * 0.01 - np.abs(canvas.t - bar)), rng.choice([0.05, 0.9]))
    return canvas


def breaker(rng, size):
    """A wave that breaks close by: its front slants across the frame and may hide the horizon,
    a lip of foam upon it and its trough striped upwards."""
    canvas, sky = begun(rng, size, height=rng.uniform(0.5, 2.5))
    rows, columns = size
    paint_sea(canvas, sky, rng, 2, 10)
    tilt = canvas.x * np.tan(np.radians(rng.uniform(-7, 7)))
    crest = rows * rng.uniform(-0.12, 0.15) + tilt
    crest = crest + rows * rng.choice([0, 0.001, 0.006]) * course(rng, canvas.x, rng.uniform(8, 90))
    tall = rows * rng.uniform(0.05, 0.3) * (1 + 0.2 * course(rng, canvas.x, 90))
    deep = (canvas.t - crest) / np.maximum(tall, 4)
    stripes = texture(rng, (256, 256), (9, 1))
    y, x = (np.abs(deep) * 60).astype(int) % 256, np.abs(canvas.x).astype(int) % 256
    face = rng.uniform(0.03, 0.3) * 2 ** (rng.uniform(0.1, 0.6) * stripes[y, x] - 0.6 * deep)
    canvas.lay(inside(canvas.t - crest) * inside((1 - deep) * tall), face)
    lip = rows * rng.uniform(0.004, 0.05) * np.clip(
        0.6 + course(rng, canvas.x, rng.uniform(3, 60)), 0, 2)  # fmt: skip
    white = rng.random() < 0.7
    if white:
        canvas.lay(inside(canvas.t - crest) * inside(crest + lip - canvas.t), rng.uniform(0.6, 1.3))
    wash = texture(rng, (256, 256), (1, 5))
    y = (np.log1p(np.maximum(canvas.t - crest - tall, 0)) * 30).astype(int) % 256
    x = (np.abs(canvas.x) * 0.6).astype(int) % 256
    canvas.lay(np.clip(0.4 * wash[y, x], 0, 1) * inside((deep - 1) * tall), 0.9)
    return canvas


def pier_side(rng, size):
    """A pier from the side: a deck in perspective on piles that lean a little, the sea behind it
    and between them."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_sea(canvas, sky, rng, 1, 8)
    near = nearer(rng, canvas)
    unit = camera.focal / rng.uniform(20, 150) * near
    top = (camera.height - rng.uniform(0.6, 2.2) * camera.height) * unit
    thick = rng.uniform(0.3, 1.2) * unit
    wood = across(canvas, rng.choice([0.04, 0.15, 0.6]), 0.2 * texture(rng, (256, 256), (1, 8)), 3)
    canvas.lay(inside(canvas.t - top) * inside(top + thick - canvas.t), wood)
    if rng.random() < 0.5:
        for up in (0.5, 1.0):
            rail = top - up * unit
            canvas.lay(inside(0.05 * unit + 0.3 - np.abs(canvas.t - rail)), 0.06)
    column = canvas.bounds[0]
    while column < canvas.bounds[1]:
        own = float(np.interp(column, canvas.x[0], unit[0]))
        head = float(np.interp(column, canvas.x[0], (top + thick)[0]))
        bottom = camera.height * own * rng.uniform(0.95, 1.05)
        if bottom > head:
            canvas.pole(column, bottom, bottom - head, rng.normal(0, 1.2), max(0.3 * own, 1), 0.05)
        column += max(rng.uniform(2, 5) * own, 6)
    return canvas


def stay_bridge(rng, size):
    """A bridge of stay cables over an estuary: its deck climbs in perspective or is cambered, fans
    of cables, towers upright; the sea behind it in some frames."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_sea(canvas, sky, rng, 0.5, 6)
    if rng.random() < 0.5:
        bank = rows * rng.uniform(0.005, 0.03) * nearer(rng, canvas)
        canvas.lay(inside(canvas.t + 2 * bank) * inside(bank - canvas.t), rng.uniform(0.05, 0.2))
    near = nearer(rng, canvas, 0.6)
    camber = rows * rng.choice([0, 0.03, 0.08]) * np.square(canvas.x / columns)
    deck = -rows * rng.uniform(-0.03, 0.2) * near + camber
    thick = rows * rng.uniform(0.006, 0.03) * near
    shade = rng.uniform(0.04, 0.5)
    canvas.lay(inside(canvas.t - deck) * inside(deck + thick - canvas.t), shade)
    for foot in rng.uniform(-0.45, 0.45, int(rng.integers(1, 4))) * columns:
        edge = float(np.interp(foot, canvas.x[0], deck[0]))
        tall, wide = rows * rng.uniform(0.25, 0.5), rows * rng.uniform(0.006, 0.02)
        canvas.box(foot - wide, foot + wide, edge - tall, rows * rng.uniform(0.03, 0.1), shade)
        for side in (-1, 1):
            for number in range(1, int(rng.integers(5, 14))):
                run, up = side * number * columns * 0.04, tall * min(1, 0.25 + 0.07 * number)
                end = float(np.interp(foot + run, canvas.x[0], deck[0]))
                rise = end - (edge - up)
                line = edge - up + rise * (canvas.x - foot) / run
                along = inside(side * (canvas.x - foot)) * inside(side * (foot + run - canvas.x))
                canvas.lay(inside(0.5 - np.abs(canvas.t - line)) * along, shade)
    return canvas


def lookout(rng, size):
    """The sea from high up, its horizon near the top of the frame; a coast below in some."""
    canvas, sky = begun(rng, size, height=np.exp(rng.uniform(np.log(10), np.log(300))),
                        row=-size[0] * rng.uniform(0.25, 0.46))  # fmt: skip
    camera, (rows, columns) = canvas.camera, size
    paint_sea(canvas, sky, rng, 2, 11)
    if rng.random() < 0.4:
        paint_haze(canvas, rng.uniform(0.2, 0.9), rows * rng.uniform(0.01, 0.05))
    if rng.random() < 0.4:
        edge = rows * rng.uniform(0.15, 0.7) + canvas.x * rng.uniform(-0.8, 0.8)
        edge = edge + rows * 0.03 * course(rng, canvas.x, rng.uniform(5, 60))
        stone = across(canvas, rng.uniform(0.05, 0.3), 0.5 * texture(rng, (256, 256), 1.5), 1)
        canvas.lay(inside(canvas.t - edge), stone)
    for _ in range(int(rng.integers(0, 5))):
        far = camera.height * rng.uniform(2, 30)
        foot, at = camera.focal * camera.height / far, rng.uniform(-0.5, 0.5) * columns
        wide = max(20 * camera.focal / far, 1.5)
        canvas.box(at - wide, at + wide, foot - wide / 4, foot, rng.choice([0.05, 0.9]))
    return canvas


def ship_side(rng, size):
    """The hull of a ship close by: sheer, waterline and rubbing strakes slant, rows of ports; the
    sea beside it."""
    canvas, sky = begun(rng, size)
    camera, (rows, columns) = canvas.camera, size
    paint_sea(canvas, sky, rng, 1, 9)
    unit = rows / rng.uniform(6, 30) * nearer(rng, canvas, 0.8)
    heel = canvas.x * np.tan(np.radians(rng.normal(0, 2)))
    foot = camera.height * rng.uniform(0.4, 2) * unit + heel
    tall = rng.uniform(1.5, 6) * unit + rows * rng.choice([0, 0.05]) * np.square(canvas.x / columns)
    deep = (foot - canvas.t) / tall
    paint = np.where(deep < rng.uniform(0.1, 0.5), rng.uniform(0.03, 0.3), rng.uniform(0.05, 1.0))
    for at in rng.uniform(0.1, 0.95, int(rng.integers(0, 5))):
        paint = paint * 2 ** (-rng.uniform(0.3, 1.5) * (np.abs(deep - at) < 0.02))
    ports = (np.abs(deep - 0.6) < 0.06) & (np.abs((canvas.x / unit) % 1.5 - 0.7) < 0.2)
    paint = np.where(ports, 0.02, paint)
    paint = across(canvas, paint, 0.08 * texture(rng, (256, 256), (2, 2)), 2)
    side, end = rng.choice([-1, 1]), rng.uniform(-0.6, 0.4) * columns
    along = inside(side * (canvas.x - end) - rng.uniform(-0.3, 0.3) * (canvas.t - foot))
    canvas.lay(inside(deep * tall) * inside((1 - deep) * tall) * along, paint)
    return canvas


def reed_belt(rng, size):
    """A belt of reeds before open water or a lake: stems that lean in the wind, tops ragged or cut
    to a line by distance; a far shore in some."""
    canvas, sky = begun(rng, size)
    camera, (rows, columns) = canvas.camera, size
    paint_sea(canvas, sky, rng, 0.3, 5)
    if rng.random() < 0.6:
        foot = camera.focal * camera.height / rng.uniform(150, 4000) * nearer(rng, canvas)
        tall = foot * rng.uniform(0.2, 2) * (1 + rng.choice([0, 0.3]) * course(rng, canvas.x, 9))
        canvas.lay(inside(canvas.t - foot + tall) * inside(foot - canvas.t), rng.uniform(0.03, 0.3))
    near = nearer(rng, canvas, 0.7)
    top = rows * rng.uniform(-0.1, 0.3) * near
    top = top + rows * rng.choice([0.001, 0.01, 0.04]) * course(rng, canvas.x, rng.uniform(0.5, 20))
    slant = np.tan(np.radians(rng.uniform(-15, 15)))
    stems = texture(rng, (64, 512), (20, 0.7))
    x = (np.abs(canvas.x + slant * canvas.t) * 1.5).astype(int) % 512
    y = (np.abs(canvas.t) * 0.2).astype(int) % 64
    canvas.lay(inside(canvas.t - top), rng.uniform(0.04, 0.4) * 2 ** (0.5 * stems[y, x]))
    for _ in range(int(rng.integers(0, 60))):
        foot = rng.uniform(-0.5, 0.5) * columns
        canvas.pole(foot, rows, rows - rows * rng.uniform(-0.2, 0.1), np.degrees(slant)
                    + rng.normal(0, 3), rng.uniform(0.7, 2), rng.choice([0.05, 0.5]))  # fmt: skip
    return canvas


def fog_bank(rng, size):
    """A bank of fog that lies on the sea: its top a line that slants, its foot soft; the horizon
    hidden behind it, or only a part of it."""
    canvas, sky = begun(rng, size, clouds=0)
    rows, columns = size
    paint_sea(canvas, sky, rng, 0.5, 6)
    top = -rows * rng.uniform(0.0, 0.08) + canvas.x * np.tan(np.radians(rng.uniform(-4, 4)))
    top = top + rows * rng.choice([0, 0.002, 0.01]) * course(rng, canvas.x, rng.uniform(10, 90))
    foot = rows * rng.uniform(-0.01, 0.1) + canvas.x * np.tan(np.radians(rng.normal(0, 1)))
    body = np.clip((canvas.t - top) / rng.uniform(0.7, 10) + 0.5, 0, 1)
    body = body * np.clip((foot - canvas.t) / rng.uniform(0.7, 30) + 0.5, 0, 1)
    if rng.random() < 0.4:
        side, ends = rng.choice([-1, 1]), rng.uniform(-0.4, 0.4) * columns
        body = body * np.clip(side * (canvas.x - ends) / rng.uniform(3, 60) + 0.5, 0, 1)
    canvas.lay(body * rng.uniform(0.7, 1), rng.uniform(0.25, 1.1))
    for _ in range(int(rng.integers(0, 3))):
        paint_boat(canvas, rng)
    return canvas


SEAS = (shelf_cloud, wake, lookout, fog_bank)
PARTLY = (heeled_marina, breaker, pier_side, stay_bridge, ship_side, reed_belt)
