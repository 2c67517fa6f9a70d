"""More of them: held back until they had been judged once, the limits on how waves grow since."""

import numpy as np

from lean_frames.camera import course, inside, texture
from lean_frames.nature import paint_boat, paint_haze, paint_water
from lean_frames.tuned import across, begun


def squall(rng, size):
    """The sea under a dark cloud, a curtain of rain before a part of the horizon."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    up = np.maximum(-canvas.t, 0) / rows
    canvas.light *= 2 ** (-rng.uniform(0.5, 2) * np.clip(up / rng.uniform(0.05, 0.3), 0, 1))
    paint_water(canvas, sky, rng, rng.uniform(4, 12), heading=rng.uniform(-1.4, 1.4))
    off = np.abs(canvas.x - rng.uniform(-0.5, 0.5) * columns) / (rng.uniform(0.1, 0.4) * columns)
    rain = 0.8 * np.exp(-(off**4)) * np.exp(-np.maximum(canvas.t, 0) / (0.04 * rows))
    canvas.lay(rain, rng.uniform(0.2, 0.5))
    return canvas


def surf(rng, size):
    """The sea from a beach: lines of breakers at an angle, foam, and people in the water."""
    canvas, sky = begun(rng, size, height=rng.uniform(1.5, 3))
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(2, 8), rng.uniform(0.03, 0.1))
    for depth in np.sort(rng.uniform(0.03, 0.4, int(rng.integers(1, 5)))):
        line = depth * rows * (1 + rng.uniform(-0.4, 0.4) * canvas.x / columns)
        line = line + 0.15 * depth * rows * course(rng, canvas.x, rng.uniform(20, 120))
        broken = inside(course(rng, canvas.x, 50) + rng.uniform(-0.5, 1.5))
        thick = depth * rows * rng.uniform(0.05, 0.2)
        canvas.lay(inside(canvas.t - line) * inside(line + thick - canvas.t) * broken, 1.1)
    for _ in range(int(rng.integers(0, 6))):
        foot, bottom = rng.uniform(-0.5, 0.5) * columns, rows * rng.uniform(0.03, 0.3)
        canvas.pole(foot, bottom, 0.9 * bottom, rng.normal(0, 8), 0.25 * bottom, 0.08)
    return canvas


def anchorage(rng, size):
    """A bay between two capes, open to the sea in the middle; boats at anchor that roll."""
    canvas, sky = begun(rng, size)
    camera, columns = canvas.camera, size[1]
    paint_water(canvas, sky, rng, rng.uniform(1, 5), heading=rng.uniform(-1, 1))
    for side in (-1, 1):
        begins = rng.uniform(0.1, 0.6) * columns
        along = np.maximum(side * canvas.x - begins, 0) / columns
        foot = camera.focal * camera.height / rng.uniform(200, 3000) * (0.2 + along)
        top = foot - size[0] * along * rng.uniform(0.2, 1) * (1 + 0.2 * course(rng, canvas.x, 20))
        canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t) * (along > 0), 0.08)
    for _ in range(int(rng.integers(1, 7))):
        paint_boat(canvas, rng, rng.normal(0, 2))
    return canvas


def ferry_window(rng, size):
    """The sea through the window of a ferry that heels: a dark frame, rounded at its corners."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(2, 10), heading=rng.uniform(-1, 1))
    turn = np.radians(rng.uniform(-7, 7))
    x, y = canvas.x, canvas.t - canvas.camera.row * -1 - rng.uniform(-0.1, 0.1) * rows
    right, down = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    power = rng.choice([6, 12, 40])
    off = (np.abs(right / (0.47 * columns)) ** power + np.abs(down / (0.46 * rows)) ** power)
    canvas.lay(np.clip((off ** (1 / power) - 1) * rows, 0, 1), rng.uniform(0.02, 0.2))
    return canvas


def foredeck(rng, size):
    """The bow of a boat that heels, its planks running together; the sea on both sides of it."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(2, 10), heading=rng.uniform(-1, 1))
    heel = np.radians(rng.uniform(-15, 15))
    x, y = canvas.x, canvas.t - rows * rng.uniform(-0.05, 0.25)
    right, down = x * np.cos(heel) + y * np.sin(heel), y * np.cos(heel) - x * np.sin(heel)
    wide = np.maximum(down, 0.1) * rng.uniform(0.6, 2)
    planks = 0.3 * (np.sin(right / wide * rng.uniform(20, 60)) > 0.9)
    canvas.lay(inside(down) * inside(wide - np.abs(right)), rng.uniform(0.1, 0.9) * 2**-planks)
    canvas.pole(0, 0, 2 * rows, np.degrees(heel), 4, 0.05)
    return canvas


def rocks(rng, size):
    """A breakwater of rough blocks across the frame, in perspective, the sea in front of it."""
    canvas, sky = begun(rng, size)
    camera = canvas.camera
    paint_water(canvas, sky, rng, rng.uniform(2, 8), heading=rng.uniform(-1, 1))
    near = np.maximum(1 + rng.uniform(-0.9, 0.9) * canvas.x / size[1] * 1.4, 0.05)
    unit = camera.focal / rng.uniform(30, 300) * near
    rough = 0.3 * course(rng, canvas.x, rng.uniform(1, 6))
    top = (camera.height * rng.uniform(-0.3, 0.8) + rough) * unit
    foot = (camera.height + rough) * unit
    stone = across(canvas, rng.uniform(0.05, 0.3), 0.7 * texture(rng, (256, 256), 2), 1)
    canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t), stone)
    return canvas


def canal(rng, size):
    """A canal: quays that run together, houses on one side, poles in the water."""
    canvas, sky = begun(rng, size)
    rows, columns = size
    paint_water(canvas, sky, rng, rng.uniform(0.5, 2))
    for side in (-1, 1):
        off = np.maximum(side * canvas.x - rng.uniform(-0.05, 0.1) * columns, 0)
        top, foot = -off * rng.uniform(-0.1, 0.5), off * rng.uniform(0.2, 0.5)
        canvas.lay(inside(canvas.t - top) * inside(foot - canvas.t), rng.uniform(0.05, 0.4))
    for foot in np.cumsum(rng.uniform(0.04, 0.12, 12)) * columns - 0.05 * columns:
        top = -0.8 * foot - 0.05 * rows
        canvas.box(foot, foot + 0.05 * columns, top, 0.3 * foot, np.exp(rng.normal(-1.6, 0.6)))
        for row in np.arange(top + 6, 0, max(0.15 * foot, 7)):
            canvas.box(foot + 4, foot + 0.02 * columns, row, row + 5, rng.choice([0.03, 0.9]))
    for _ in range(int(rng.integers(0, 8))):
        foot, bottom = rng.uniform(-0.5, 0.2) * columns, rows * rng.uniform(0.1, 0.4)
        canvas.pole(foot, bottom, 0.5 * rows, rng.normal(0, 3), 0.02 * rows, 0.06)
    return canvas


def roof(rng, size):
    """A roof of tiles before the sky, its eaves and courses in perspective, a chimney on it."""
    canvas, _ = begun(rng, size)
    rows, columns = size
    away = 1 + rng.uniform(-0.6, 0.6) * canvas.x / columns
    row = (canvas.t + rows * rng.uniform(-0.2, 0.3)) / away
    row = row - canvas.x * np.tan(np.radians(rng.normal(0, 3)))
    tiles = np.maximum(np.sin(row * rng.uniform(0.15, 1.2)), 0) ** 4
    tiles = rng.uniform(0.2, 1) * tiles + 0.3 * np.sin(canvas.x / away * rng.uniform(0.2, 1.2))
    tiles = tiles + 0.2 * texture(rng, (canvas.t.size, canvas.x.size), (1, 2))
    canvas.lay(inside(row), rng.uniform(0.08, 0.4) * 2**tiles)
    left = rng.uniform(-0.4, 0.4) * columns
    canvas.box(left, left + 0.06 * columns, -0.4 * rows, 0.1 * rows, 0.1)
    return canvas


def terraces(rng, size):
    """Terraces of vines along a slope: curved rows one behind the other."""
    canvas, _ = begun(rng, size)
    rows = size[0]
    tilt = canvas.x * np.tan(np.radians(rng.uniform(-6, 6)))
    bend = rows * rng.choice([0, 0.01, 0.05]) * course(rng, canvas.x, rng.uniform(60, 200))
    row = canvas.t - tilt - bend + rows * rng.uniform(-0.1, 0.2)
    step = np.log1p(np.maximum(row, 0) / rows * rng.uniform(2, 20)) * rng.uniform(6, 30)
    leaves = texture(rng, (512, 512), (1, 2))
    y, x = (step * 12).astype(int) % 512, np.abs(canvas.x).astype(int) % 512
    green = 0.15 * 2 ** (rng.uniform(0.2, 1) * np.sin(6.28 * step) + 0.4 * leaves[y, x])
    canvas.lay(inside(row), green)
    return canvas


def fence(rng, size):
    """A fence up a slope, each of its pickets with a lean of its own, a meadow behind it."""
    canvas, _ = begun(rng, size)
    rows, columns = size
    climb = np.tan(np.radians(rng.uniform(-10, 10)))
    hill = rows * rng.uniform(-0.1, 0.2) + canvas.x * np.tan(np.radians(rng.uniform(-6, 6)))
    grass = across(canvas, 0.2, 0.4 * texture(rng, (256, 256), (1.5, 1)), 1)
    canvas.lay(inside(canvas.t - hill), grass)
    light, wide = rng.choice([0.04, 0.9]), rows * rng.uniform(0.008, 0.03)
    for foot in np.arange(-0.6, 0.6, rng.uniform(0.03, 0.12)) * columns:
        bottom = 0.35 * rows + climb * foot
        canvas.pole(foot, bottom, 0.3 * rows, rng.normal(0, 1.5), wide, light)
    for up in (0.1, 0.22):
        rail = 0.35 * rows - up * rows + climb * canvas.x
        canvas.lay(inside(wide / 3 - np.abs(canvas.t - rail)), light)
    return canvas


def garlands(rng, size):
    """A fair at night: strings of lamps, lit booths with level boards, and people before them."""
    canvas, _ = begun(rng, size, clouds=0)
    rows, columns = size
    canvas.light[:] = 0.004
    for _ in range(int(rng.integers(1, 5))):
        start, tilt = rows * rng.uniform(-0.5, 0.1), np.tan(np.radians(rng.uniform(-12, 12)))
        for at in np.arange(-0.6, 0.6, rng.uniform(0.02, 0.06)) * columns:
            row = start + tilt * at + 0.05 * rows * np.sin(at / columns * 9) ** 2
            canvas.box(at - 1.5, at + 1.5, row - 1.5, row + 1.5, 2.0)
    for left in np.arange(-0.5, 0.5, 0.25) * columns:
        if rng.random() < 0.6:
            top = rows * rng.uniform(-0.1, 0.1)
            canvas.box(left, left + 0.18 * columns, top, top + 0.2 * rows, rng.uniform(0.1, 0.8))
            canvas.box(left, left + 0.18 * columns, top + 0.1 * rows, top + 0.12 * rows, 0.05)
    for _ in range(int(rng.integers(3, 20))):
        foot = rng.uniform(-0.5, 0.5) * columns
        canvas.pole(foot, rows, 0.8 * rows, rng.normal(0, 3), 0.06 * rows, 0.01)
    return canvas


def lagoon(rng, size):
    """Mud and shallow water at low tide: channels at any angle, a low shore or haze far off."""
    canvas, sky = begun(rng, size)
    rows = size[0]
    paint_water(canvas, sky, rng, rng.uniform(0.3, 2), 0.02)
    for depth in np.sort(np.exp(rng.uniform(np.log(0.005), np.log(0.5), int(rng.integers(2, 7))))):
        edge = depth * rows * (1 + rng.uniform(-0.9, 0.9) * canvas.x / size[1])
        edge = edge + 0.1 * depth * rows * course(rng, canvas.x, rng.uniform(20, 120))
        thick = depth * rows * rng.uniform(0.1, 0.8)
        mud = rng.uniform(0.05, 0.4)
        canvas.lay(inside(canvas.t - edge) * inside(edge + thick - canvas.t), mud)
    if rng.random() < 0.5:
        paint_haze(canvas, rng.uniform(0.3, 1), rows * rng.uniform(0.005, 0.04))
    return canvas


SEAS = (squall, surf)
PARTLY = (anchorage, ferry_window, foredeck)
OTHERS = (rocks, canal, roof, terraces, fence, garlands, lagoon)
