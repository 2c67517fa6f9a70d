"""More of them: drawn before they were judged once, the limits on what is thin, what stands in one
row and what is straight since."""

import numpy as np

from lean_frames.camera import course, inside, texture
from lean_frames.nature import paint_boat, paint_haze
from lean_frames.tuned import across, begun
from lean_frames.tuned_fifth import nearer, paint_sea


def beam(canvas, begin, end, wide, light):
    """Lay a straight beam between two places (column, row) over a canvas."""
    (x0, t0), (x1, t1) = begin, end
    long = np.hypot(x1 - x0, t1 - t0) + 1e-9
    off = ((x1 - x0) * (canvas.t - t0) - (t1 - t0) * (canvas.x - x0)) / long
    along = ((x1 - x0) * (canvas.x - x0) + (t1 - t0) * (canvas.t - t0)) / long
    canvas.lay(inside(wide / 2 - np.abs(off)) * inside(along) * inside(long - along), light)


def at(canvas, column, line):
    """A line's value at a column."""
    return float(np.interp(column, canvas.x[0], line[0]))


def groynes(rng, size):
    """A beach with groynes of timber that run out into the sea in perspective, their piles cut to a
    slanting line; the sea behind, in haze in some."""
    canvas, sky = begun(rng, size, height=rng.uniform(1.5, 5))
    rows, columns = size
    paint_sea(canvas, sky, rng, 1, 9)
    if rng.random() < 0.4:
        paint_haze(canvas, rng.uniform(0.4, 1), rows * rng.uniform(0.01, 0.05))
    for _ in range(int(rng.integers(1, 4))):
        x0, x1 = rng.uniform(-0.7, 0.7, 2) * columns
        t0, t1 = rows * rng.uniform(0.2, 0.55), rows * rng.uniform(0.005, 0.1)
        for part in np.linspace(0, 1, int(rng.integers(12, 60))):
            far = 1 - (1 - part) ** 2
            x, t = x0 + far * (x1 - x0), t0 + far * (t1 - t0)
            high = (t + 2) * rng.uniform(0.25, 0.35)
            wide = max(high * 0.3, 1.0)
            canvas.pole(x, t, high, rng.normal(0, 1.5), wide, rng.choice([0.04, 0.08]))
        if rng.random() < 0.5:
            beam(canvas, (x0, 0.8 * t0), (x1, 0.8 * t1), max(rows * 0.006, 1), 0.05)
    if rng.random() < 0.6:
        edge = rows * rng.uniform(0.1, 0.35) + canvas.x * np.tan(np.radians(rng.uniform(-12, 12)))
        edge = edge + rows * rng.choice([0, 0.004]) * course(rng, canvas.x, 50)
        sand = across(canvas, rng.uniform(0.2, 0.7), 0.15 * texture(rng, (256, 256), (1, 3)), 1)
        canvas.lay(inside(canvas.t - edge), sand)
        canvas.lay(inside(canvas.t - edge + rows * 0.01) * inside(edge - canvas.t) * 0.8, 0.9)
    return canvas


def wind_farm(rng, size):
    """Turbines at sea or on a ridge: towers that taper, blades at any angle; a yacht near by."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    foot = np.full_like(canvas.x, 0.5)
    if rng.random() < 0.6:
        paint_sea(canvas, sky, rng, 1, 9)
    else:
        foot = rows * 0.02 + canvas.x * np.tan(np.radians(rng.uniform(-5, 5)))
        foot = foot + rows * 0.01 * course(rng, canvas.x, 80)
        land = across(canvas, 0.1, 0.3 * texture(rng, (256, 256), (1, 2)), 2)
        canvas.lay(inside(canvas.t - foot), land)
    paint = rng.choice([0.15, 0.5, 1.0])
    for _ in range(int(rng.integers(2, 18))):
        x, high = rng.uniform(-0.55, 0.55) * columns, rows * rng.uniform(0.06, 0.4)
        bottom, wide = at(canvas, x, foot), max(0.025 * high, 0.8)
        for side in (-1, 1):
            canvas.pole(x + side * 0.012 * high, bottom, high, -side * 0.4, wide, paint)
        turn = rng.uniform(0, 120)
        for angle in np.radians(turn + np.array([0, 120, 240])):
            reach = 0.6 * high * np.array([np.sin(angle), -np.cos(angle)])
            hub = np.array([x, bottom - high])
            beam(canvas, hub, hub + reach, max(0.02 * high, 0.7), paint)
    for _ in range(int(rng.integers(0, 2))):
        paint_boat(canvas, rng)
    return canvas


def rain_town(rng, size):
    """Rain that the wind slants alike, before houses, or before a harbour and the sea."""
    canvas, sky = begun(rng, size, clouds=1)
    rows, columns = size
    if rng.random() < 0.5:
        paint_sea(canvas, sky, rng, 2, 9)
    for _ in range(int(rng.integers(0, 7))):
        left, wide = rng.uniform(-0.6, 0.5) * columns, columns * rng.uniform(0.08, 0.3)
        top, light = -rows * rng.uniform(0.05, 0.5), rng.uniform(0.05, 0.4)
        canvas.box(left, left + wide, top, rows * 0.2, light)
        step = rows * rng.uniform(0.05, 0.1)
        for row in np.arange(top + step / 2, 0.15 * rows, step):
            for side in np.arange(left + step / 2, left + wide - step, step):
                glass = light * rng.choice([0.4, 0.7, 3])
                canvas.box(side, side + step / 2, row, row + step * 0.6, glass)
    if rng.random() < 0.6:
        ground = across(canvas, rng.uniform(0.05, 0.3), 0.2 * texture(rng, (256, 256), (1, 3)), 2)
        canvas.lay(inside(canvas.t - 0.18 * rows), ground)
    air = rng.uniform(0, 0.7)
    canvas.light[:] = (1 - air) * canvas.light + air * 0.5
    lean, spread = rng.uniform(-12, 12), rng.uniform(0.1, 1)
    bright = rng.uniform(0.05, 0.5)
    for _ in range(int(rng.integers(30, 400))):
        x, t = rng.uniform(-0.6, 0.6) * columns, rng.uniform(-0.6, 0.6) * rows
        near = np.exp(rng.normal(0, 0.5))
        slant = lean + rng.normal(0, spread)
        canvas.pole(x, t, rows * 0.05 * near, slant, max(near, 0.5), 0.5 + bright * near)
    return canvas


def superstructure(rng, size):
    """On a ferry's deck: walls, windows and stanchions that lean with the ship, the sea and its
    horizon beside them, in a small part of the width in some."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_sea(canvas, sky, rng, 1, 8)
    heel = np.tan(np.radians(rng.choice([0, 1, 1]) * rng.normal(0, 2.2)))
    side, end = rng.choice([-1, 1]), rng.uniform(-0.3, 0.25) * columns
    x, t = canvas.x + heel * canvas.t, canvas.t - heel * canvas.x
    top, deck = -rows * rng.uniform(0.1, 0.8), rows * rng.uniform(0.15, 0.45)
    wall = inside(side * (x - end)) * inside(t - top) * inside(deck - t)
    canvas.lay(wall, rng.choice([0.15, 0.6, 0.9]))
    step, tall = columns * rng.uniform(0.04, 0.12), rows * rng.uniform(0.08, 0.2)
    heads = np.arange(top + 0.4 * tall, deck - tall, 1.7 * tall)
    place = end + side * step * 0.5
    while abs(place) < 0.8 * columns and heads.size:
        for head in heads:
            pane = inside(step * 0.3 - np.abs(x - place)) * inside(t - head)
            canvas.lay(pane * inside(head + tall - t), rng.choice([0.03, 0.1]))
        place += side * step
    for seam in rng.uniform(0, 0.7, int(rng.integers(0, 5))) * columns:
        canvas.lay(wall * inside(0.5 - np.abs(x - end - side * seam)), 0.1)
    boards = 0.15 * (np.sin((canvas.x + 0.3 * canvas.t) * 0.4) > 0.8)
    canvas.lay(inside(t - deck), rng.uniform(0.1, 0.4) * 2**-boards)
    rail = deck - rows * rng.uniform(0.1, 0.25)
    for part in np.linspace(0, 0.9, int(rng.integers(2, 5))):
        bar = inside(0.7 - np.abs(t - rail - part * (deck - rail)))
        canvas.lay(bar * inside(-side * (x - end)), 0.7)
    gap = columns * rng.uniform(0.03, 0.15)
    for post in np.arange(1, 25) * gap:
        upright = inside(0.9 - np.abs(x - end + side * post))
        canvas.lay(upright * inside(t - rail) * inside(deck - t), 0.7)
    return canvas


def window_view(rng, size):
    """The sea or a town past the broad mullions of a cabin that heels a little, all dark."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_sea(canvas, sky, rng, 1, 9)
    if rng.random() < 0.5:
        foot = rows * rng.uniform(0.01, 0.06) * nearer(rng, canvas)
        tall = rows * rng.uniform(0.02, 0.15) * np.maximum(1 + 0.4 * course(rng, canvas.x, 20), 0)
        canvas.lay(inside(canvas.t - foot + tall) * inside(foot - canvas.t), rng.uniform(0.04, 0.3))
        for _ in range(int(rng.integers(0, 8))):
            left, wide = rng.uniform(-0.5, 0.5) * columns, columns * rng.uniform(0.02, 0.1)
            top = -rows * rng.uniform(0.03, 0.2)
            canvas.box(left, left + wide, top, rows * 0.03, rng.uniform(0.05, 0.5))
    heel = np.tan(np.radians(rng.normal(0, 2)))
    x, t = canvas.x + heel * canvas.t, canvas.t - heel * canvas.x
    dark = rng.choice([0.01, 0.04, 0.5])
    place, gap = columns * (rng.uniform(0, 0.2) - 0.7), columns * rng.uniform(0.08, 0.35)
    wide = columns * rng.uniform(0.008, 0.05)
    while place < 0.7 * columns:
        canvas.lay(inside(wide - np.abs(x - place)), dark)
        place += gap * rng.uniform(0.9, 1.1)
    canvas.lay(inside(t - rows * rng.uniform(0.15, 0.4)), dark * 1.5)
    canvas.lay(inside(-rows * rng.uniform(0.2, 0.45) - t), dark)
    return canvas


def railway(rng, size):
    """A line by the shore: masts that carry wires, on a curve inclined alike or upright."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_sea(canvas, sky, rng, 0.5, 6)
    near = nearer(rng, canvas, 0.95)
    base = rows * rng.uniform(0.03, 0.25) * near
    gravel = across(canvas, rng.uniform(0.08, 0.4), 0.5 * texture(rng, (256, 256), 1), 2)
    canvas.lay(inside(canvas.t - base), gravel)
    for off in (0.03, 0.09, 0.2):
        rail = inside(0.8 - np.abs(canvas.t - base - rows * off * near))
        canvas.lay(rail, rng.choice([0.05, 0.9]))
    lean, own = rng.choice([0, 1]) * rng.normal(0, 3), rng.choice([0.15, 0.5, 1.2])
    tall = rows * rng.uniform(0.15, 0.5) * near
    place = canvas.bounds[0]
    while place < canvas.bounds[1]:
        foot, high = at(canvas, place, base), at(canvas, place, tall)
        tilt, wide = lean + rng.normal(0, own), max(0.03 * high, 0.9)
        canvas.pole(place, foot, high, tilt, wide, rng.choice([0.05, 0.3]))
        tip = (place + 0.3 * high, foot - 0.9 * high)
        beam(canvas, (place, foot - 0.85 * high), tip, 0.8, 0.06)
        place += max(columns * rng.uniform(0.05, 0.18) * at(canvas, place, near), 7)
    for part in (0.7, 0.8, 1.0):
        wire = base - part * tall - 0.01 * rows * np.sin(canvas.x / columns * 20)
        canvas.lay(inside(0.35 - np.abs(canvas.t - wire)), 0.06)
    return canvas


def leaning_tower(rng, size):
    """An old town by the water: a tower that leans, and houses of which some have sunk aside."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_sea(canvas, sky, rng, 0.5, 5)
    sunk = rng.normal(0, 1.5)
    for number in range(int(rng.integers(1, 7))):
        tower = number == 0
        lean = rng.normal(0, 4) if tower else rng.choice([0, 1]) * (sunk + rng.normal(0, 0.4))
        slope, middle = np.tan(np.radians(lean)), rng.uniform(-0.45, 0.45) * columns
        wide, foot = columns * rng.uniform(0.06, 0.25), rows * rng.uniform(0.08, 0.2)
        top = -rows * rng.uniform(*((0.3, 0.9) if tower else (0.05, 0.35)))
        x = canvas.x - middle - slope * (foot - canvas.t)
        t = canvas.t - slope * (canvas.x - middle)
        light = rng.uniform(0.08, 0.6)
        canvas.lay(inside(wide / 2 - np.abs(x)) * inside(t - top) * inside(foot - t), light)
        step = rows * rng.uniform(0.04, 0.1)
        for row in np.arange(top + step / 2, foot - step, step):
            for side in np.arange(-wide / 2 + step / 2, wide / 2 - step / 2, step):
                pane = inside(step / 4 - np.abs(x - side - step / 4)) * inside(t - row)
                glass = light * rng.choice([0.3, 0.5, 2])
                canvas.lay(pane * inside(row + 0.6 * step - t), glass)
    wall = across(canvas, rng.uniform(0.08, 0.5), 0.25 * texture(rng, (256, 256), (1, 2)), 3)
    edge = nearer(rng, canvas, 0.6)
    edge = rows * rng.uniform(0.06, 0.15) * edge
    deep = rows * rng.choice([0.05, 0.9])
    canvas.lay(inside(canvas.t - edge) * inside(edge + deep - canvas.t), wall)
    return canvas


SEAS = (groynes,)
PARTLY = (wind_farm, rain_town, railway, leaning_tower)
AFLOAT = (superstructure, window_view)
