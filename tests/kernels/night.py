"""Night pictures whose truth is known: coloured discs, neon tubes, a skyline over water.

Balanced linear light in planes, 1 at saturation. Shapes are painted `FINE` times as fine as the
sites and averaged; the lens blurs with the deviation that is given, in sites.
"""

import numpy as np
from scipy.ndimage import gaussian_filter

FINE = 6
LIGHTS = {
    "red": (1, 0.04, 0.03),
    "green": (0.05, 1, 0.1),
    "blue": (0.03, 0.1, 1),
    "magenta": (1, 0.06, 0.8),
    "amber": (1, 0.45, 0.04),
    "orange": (1, 0.22, 0.02),
    "cyan": (0.05, 0.8, 1),
    "sodium": (1, 0.62, 0.18),
    "pink": (1, 0.35, 0.5),
    "violet": (0.45, 0.08, 1),
    "lime": (0.5, 1, 0.06),
    "white": (1, 1, 1),
}
TUBES = ((1, 0.05, 0.03), (0.06, 0.3, 1), (1, 0.08, 0.6), (0.1, 1, 0.25), (1, 0.35, 0.04))
ROOMS = ((1, 0.72, 0.38), (1, 0.8, 0.5), (0.85, 0.95, 1), (1, 0.62, 0.25), (0.9, 1, 0.8))
LAMPS = (
    (1, 0.62, 0.2),
    (1, 0.75, 0.4),
    (1, 0.6, 0.15),
    (0.9, 1, 1),
    (1, 0.06, 0.04),
    (0.1, 1, 0.4),
)
LEVELS = (0.9, 0.9, 0.5, 0.2)


class Canvas:
    """Planes as fine as `FINE`, with a ground."""

    def __init__(self, rows, columns, ground):
        self.light = np.ones((3, rows * FINE, columns * FINE)) * np.reshape(ground, (3, -1, 1))

    def fill(self, top, left, bottom, right, colour, inside=None):
        """Paint a rectangle, or what of it is `inside` (a function of y and x, in sites)."""
        y0, y1, x0, x1 = (max(round(edge * FINE), 0) for edge in (top, bottom, left, right))
        part = self.light[:, y0:y1, x0:x1]
        y, x = np.ogrid[: part.shape[1], : part.shape[2]]
        if part.size:
            where = True if inside is None else inside((y0 + y + 0.5) / FINE, (x0 + x + 0.5) / FINE)
            np.copyto(part, np.reshape(colour, (3, 1, 1)), where=where)

    def disc(self, y, x, radius, colour):
        """Paint a disc."""
        box = y - radius - 1, x - radius - 1, y + radius + 1, x + radius + 1
        self.fill(*box, colour, lambda v, u: np.hypot(v - y, u - x) < radius)

    def seen(self, blur=0.0):
        """What the sites see by a lens of some blur."""
        light = gaussian_filter(self.light, (0, blur * FINE, blur * FINE), mode="nearest")
        planes, rows, columns = light.shape
        return light.reshape(planes, rows // FINE, FINE, columns // FINE, FINE).mean((2, 4))


def sheet(colour, radii=(3, 4, 6, 12), blur=0.4, level=0.9, pitch=48):
    """A row of discs of each radius, each disc at another place among the sites."""
    places = np.array([(0, 0), (0.5, 0.25), (0.3, 0.8), (0.75, 0.5)])
    canvas = Canvas(pitch * len(radii), pitch * len(places), (0.01, 0.012, 0.02))
    for row, radius in enumerate(radii):
        for column, place in enumerate(places):
            middle = pitch * (np.array((row, column)) + 0.5) + place
            canvas.disc(*middle, radius, level * np.array(LIGHTS[colour]))
    return canvas.seen(blur)


def discs(seed, blur=0.0, rows=256, columns=384, colours=tuple(LIGHTS), count=60):
    """Discs of radius 2 to 13 that do not touch, at several levels."""
    rng = np.random.default_rng(seed)
    canvas, placed = Canvas(rows, columns, rng.uniform(0.004, 0.02, 3)), []
    for _ in range(4000):
        radius = np.exp(rng.uniform(np.log(2), np.log(13)))
        y, x = rng.uniform(radius + 4, (rows - radius - 4, columns - radius - 4))
        if all(np.hypot(y - v, x - u) > radius + r + 4 for v, u, r in placed):
            canvas.disc(y, x, radius, np.array(LIGHTS[rng.choice(colours)]) * rng.choice(LEVELS))
            placed.append((y, x, radius))
        if len(placed) == count:
            break
    return canvas.seen(blur)


def neon(seed, blur=0.3, rows=256, columns=384, count=26):
    """Tubes along lines, circles and frames, paler in their middle, with their glow on a wall."""
    rng = np.random.default_rng(seed)
    canvas = Canvas(rows, columns, rng.uniform(0.006, 0.03, 3) * (1.2, 1, 0.8))
    y, x = (np.indices(canvas.light.shape[1:], dtype=np.float32) + 0.5) / FINE
    glow = np.zeros((3, rows, columns))
    for _ in range(count):
        colour = np.array(TUBES[rng.integers(len(TUBES))]) * rng.uniform(0.4, 1)
        off_y, off_x = y - rng.uniform(10, rows - 10), x - rng.uniform(10, columns - 10)
        distance = _from_tube(off_y, off_x, rng) / rng.uniform(0.8, 2.6)
        round_ = np.sqrt(np.clip(1 - distance**2, 0, 1))
        for plane, own in zip(canvas.light, colour, strict=True):
            tube = own * (0.45 + 0.55 * round_) + 0.12 * round_**4 * colour.max()
            np.copyto(plane, tube, where=distance < 1)
        covered = (distance < 1).reshape(rows, FINE, columns, FINE).mean((1, 3))
        halo = 0.12 * gaussian_filter(covered, 5) + 0.08 * gaussian_filter(covered, 18)
        glow += colour[:, None, None] * halo
    return np.clip(canvas.seen(blur) + glow, 0, 1)


def _from_tube(y, x, rng):
    """Distance from the middle of a tube of some shape."""
    shape, size, angle = rng.integers(3), rng.uniform(8, 30), rng.uniform(0, np.pi)
    if shape == 0:
        along = np.clip(y * np.sin(angle) + x * np.cos(angle), -1.5 * size, 1.5 * size)
        return np.hypot(y - along * np.sin(angle), x - along * np.cos(angle))
    if shape == 1:
        return np.abs(np.hypot(y, x) - size)
    return np.abs(np.maximum(np.abs(y), 1.3 * np.abs(x)) - size)


def skyline(seed, blur=0.4, rows=320, columns=480):
    """Towers with lit windows, signs and lamps before a dusk sky, mirrored in water."""
    rng = np.random.default_rng(seed)
    horizon = int(0.78 * rows)
    height = np.clip((np.arange(rows * FINE) + 0.5) / FINE / horizon, 0, 1)
    ends = np.array([(0.012, 0.02, 0.05), (0.075, 0.055, 0.06)])
    canvas = Canvas(rows, columns, np.outer(ends[0], 1 - height) + np.outer(ends[1], height**2))
    for depth in range(2):
        left = -5.0
        while left < columns:
            width = rng.uniform(16, 46)
            _tower(canvas, horizon, left, width, rng.uniform(40, 190) * (1 - 0.3 * depth), rng)
            left += width + rng.uniform(-6, 8)
    for place in (np.arange(24) + rng.uniform(0.3, 0.7, 24)) * columns / 24:
        lamp = np.array(LAMPS[rng.choice(6, p=(0.35, 0.25, 0.15, 0.1, 0.08, 0.07))])
        canvas.disc(horizon - rng.uniform(0, 4), place, rng.uniform(0.7, 1.8), 0.95 * lamp)
    light = canvas.seen(blur)
    _mirror(light, horizon, rng)
    glare = sum(0.03 * gaussian_filter(light, (0, size, size)) for size in (4, 16))
    return np.clip(0.94 * light + glare, 0, 1)


def _tower(canvas, horizon, left, width, height, rng):
    """A tower with windows, perhaps a sign, perhaps a red light on a mast."""
    top, wall = horizon - height, rng.uniform(0.004, 0.02) * np.array((1, 1, 1.15))
    canvas.fill(top, left, horizon, left + width, wall)
    pitch, share = rng.uniform((3, 2.6), (7, 6)), rng.uniform((0.35, 0.4), (0.7, 0.75))
    own, lit = rng.integers(len(ROOMS)), rng.uniform(0.2, 0.7)
    for y in np.arange(top + 2, horizon - pitch[0], pitch[0]):
        for x in np.arange(left + 1.5, left + width - pitch[1], pitch[1]):
            if rng.random() < lit:
                room = ROOMS[own if rng.random() < 0.8 else rng.integers(len(ROOMS))]
                level = np.clip(rng.lognormal(np.log(0.22), 0.7), 0.01, 0.95)
                canvas.fill(y, x, *(share * pitch + (y, x)), level * np.array(room))
    if rng.random() < 0.5:
        _sign(canvas, top + rng.uniform(2, 20), left, width, rng)
    if rng.random() < 0.6:
        middle = left + width / 2
        canvas.fill(top - 8, middle - 0.4, top, middle + 0.4, wall)
        canvas.disc(top - 8, middle, rng.uniform(1, 2.2), 0.9 * np.array(LIGHTS["red"]))


def _sign(canvas, top, left, width, rng):
    """A plate of light, or strokes like letters."""
    colour = np.array(TUBES[rng.integers(len(TUBES))]) * rng.uniform(0.5, 0.95)
    long, high = rng.uniform(6, 0.8 * width), rng.uniform(3, 8)
    left += rng.uniform(0, max(width - long, 1))
    if rng.random() < 0.5:
        canvas.fill(top, left, top + high, left + long, colour)
        return
    for x in np.arange(left, left + long - 2, rng.uniform(3.2, 5)):
        canvas.fill(top, x, top + high, x + rng.uniform(1, 1.8), colour)
        bar = top + rng.uniform(0, high - 1.2)
        canvas.fill(bar, x, bar + 1.2, x + 3, colour)


def _mirror(light, horizon, rng):
    """Fill what is below the horizon with what is above, stretched and broken by waves."""
    rows, columns = light.shape[1] - horizon, light.shape[2]
    waves, shifts = (
        gaussian_filter(rng.normal(size=(rows, columns)), s) for s in ((0.8, 3), (0.7, 2))
    )
    deep = np.arange(rows)[:, None]
    y = horizon - 1 - 1.6 * deep - waves / waves.std() * (2 + 0.12 * deep)
    x = np.arange(columns) + np.rint(3 * shifts)
    y, x = np.clip(y, 0, horizon - 1).astype(int), np.clip(x, 0, columns - 1).astype(int)
    mirrored = 0.6 * gaussian_filter(light[:, y, x], (0, 1.2, 0.6))
    light[:, horizon:] = mirrored + np.reshape((0.004, 0.006, 0.012), (3, 1, 1))
