"""Scenes that are texture all over, and the sensors that record them: frames nobody would choose.

Each is drawn at twice the size and averaged in squares of two, which is what the area of a
pixel does to it, and shades down to the pixel. The lens is a perfect one, so that real frames have
less that looks like noise.
"""

from dataclasses import dataclass

import numpy as np

METER = 0.127
"""Mean of a metered frame, as a share of saturation (ISO 12232)."""
TINT = np.array([[0.5, 1.0], [1.0, 0.62]])
"""What the sites of a block RGGB see of neutral daylight."""


@dataclass(frozen=True)
class Camera:
    """A sensor: electrons that a site holds at ISO 100, bits, black, and what reading adds.

    ``read`` is in electrons, before the gain of the ISO; ``behind`` in counts, after it.
    """

    name: str
    well: float
    bits: int
    black: int
    read: float
    behind: float

    @property
    def white(self):
        """Count of saturation."""
        return 2**self.bits - 1

    def noise(self, iso):
        """Gain and offset of the variance in signal, 1 at white, with that of whole counts."""
        span, gain = self.white - self.black, iso / 100 / self.well
        return gain, (self.read * gain) ** 2 + (self.behind**2 + 1 / 12) / span**2

    def record(self, scene, iso, seed=0):
        """Counts, uint16, of a scene in signal."""
        gain, offset = self.noise(iso)
        span, rng = self.white - self.black, np.random.default_rng(seed)
        signal = rng.poisson(np.clip(scene, 0, 1.5) / gain) * gain
        signal += rng.normal(0, np.sqrt(offset - 1 / 12 / span**2), scene.shape)
        return np.clip(np.rint(signal * span + self.black), 0, self.white).astype(np.uint16)


CAMERAS = (
    Camera("14 bits, 52 000 e", 52_000, 14, 512, 2.4, 1.6),
    Camera("12 bits, 24 000 e", 24_000, 12, 256, 3.0, 0.6),
)


def site_light(scene, sky=0.0):
    """What the sites of a mosaic see of a scene, metered, under a share of smooth sky.

    Parameters
    ----------
    scene : ndarray, shape (rows, columns)
        Grey, in any unit.
    sky : float
        Share of the rows.

    Returns
    -------
    ndarray, shape (rows, columns), in signal
    """
    rows, columns = scene.shape
    light = scene * (METER / scene.mean())
    if sky:
        y, x = np.mgrid[: int(rows * sky), :columns]
        light[: len(y)] = 0.22 + 0.2 * y / rows + 0.03 * x / columns
    return light * np.tile(TINT, (rows // 2, columns // 2))


def _halved(picture):
    rows, columns = picture.shape
    return picture.reshape(rows // 2, 2, columns // 2, 2).mean((1, 3))


def _scattered(size, marks, rng, shades):
    """Marks laid over each other: offsets (rows, columns) of each kind, at so many places."""
    picture = np.full((size, size), 0.3)
    kinds = [kind for kind, (_, count) in enumerate(marks) for _ in range(8) if count]
    for kind in rng.permutation(kinds):
        (dy, dx), count = marks[kind]
        count = count // 8 + 1
        y, x = rng.integers(0, size, (2, count, 1))
        picture[(y + dy) % size, (x + dx) % size] = shades(rng, count)
    return picture


def _fractal(size, slope, rng):
    """A Gaussian field of deviation 1 whose amplitude falls as frequency to the power -slope."""
    row, column = np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None]
    distance = np.maximum(np.hypot(row, column), 1 / size)
    field = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(size, size))) * distance**-slope)
    return field / field.std()


def foliage(size, rng, smallest=1.5, largest=8.0):
    """Leaves of such radii in pixels, laid over each other (dead leaves: Lee, Mumford and Huang,
    IJCV 41, 2001)."""
    marks = []
    for radius in 2 * np.geomspace(smallest, largest, 6):
        reach = int(np.ceil(radius))
        dy, dx = np.mgrid[-reach : reach + 1, -reach : reach + 1]
        inside = np.hypot(dy, dx) <= radius
        count = int(1.2 * (2 * size) ** 2 / inside.sum())
        marks.append(((dy[inside], dx[inside]), count))
    shades = lambda rng, n: np.exp(rng.normal(-1.5, 0.6, (n, 1)))  # noqa: E731
    return _halved(_scattered(2 * size, marks, rng, shades))


def grass(size, rng):
    """Blades of 1 to 2 pixels in width, 15 to 50 in length, each with its own shade and slant."""
    marks = []
    for slant in np.linspace(-0.7, 0.7, 12):
        for width in (2, 3, 4):
            along = np.arange(int(rng.integers(30, 100)))
            dy = np.repeat(along, width)
            dx = np.rint(along * slant + 6e-4 * along**2).astype(int)
            dx = (dx[:, None] + np.arange(width)).ravel()
            marks.append(((dy, dx), int(0.15 * (2 * size) ** 2 / dy.size)))
    shades = lambda rng, n: np.exp(rng.normal(-1.5, 0.55, (n, 1)))  # noqa: E731
    return _halved(_scattered(2 * size, marks, rng, shades))


def gravel(size, rng):
    """Stones of 3 to 12 pixels, round in light from one side, with grain of their own."""
    grain = np.exp(0.12 * _fractal(size, 0.6, rng))
    stones = foliage(size, rng, 3, 12)
    lit = np.clip(1 + 1.2 * (np.roll(stones, 2, 0) - np.roll(stones, -1, 1)), 0.2, 2)
    return stones * lit * grain


def water(size, rng):
    """Ripples down to the pixel: amplitude as one over frequency, longer across than along."""
    field = _fractal(size, 1.0, rng)
    return np.exp(0.45 * field)


def brick(size, rng):
    """Courses of bricks, mortar between them, and grain."""
    y, x = np.mgrid[:size, :size]
    course = y // 24
    x = x + 37 * (course % 2)
    shade = np.exp(rng.normal(-1.2, 0.15, (size // 24 + 1, size // 74 + 2)))[course, x // 74]
    mortar = (y % 24 < 3) | (x % 74 < 3)
    return np.where(mortar, 0.55, shade) * np.exp(0.06 * _fractal(size, 0.7, rng))


def skyline(size, rng):
    """Fronts of houses: flat walls, rows of windows, sharp edges."""
    picture = np.full((2 * size, 2 * size), 0.3)
    for _ in range(500):
        y, x = rng.integers(0, 2 * size, 2)
        height, width = rng.integers(60, 900), rng.integers(50, 300)
        wall = picture[y : y + height, x : x + width]
        wall[:] = np.exp(rng.normal(-1.3, 0.6))
        step, pane = rng.integers(9, 40), rng.integers(3, 9)
        for row in range(4, wall.shape[0], step):
            for column in range(4, wall.shape[1], step):
                wall[row : row + 2 * pane, column : column + pane] *= rng.choice([0.4, 0.5, 2.0])
    return _halved(picture)


def fur(size, rng):
    """Hair: a field drawn out along one direction, sharp across it."""
    row, column = np.fft.fftfreq(size)[:, None], np.fft.rfftfreq(size)[None]
    along, across = 0.8 * row + 0.6 * column, 0.8 * column - 0.6 * row
    shape = np.exp(-((along / 0.03) ** 2)) * (np.abs(across) + 0.02) ** -0.5
    field = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(size, size))) * shape)
    return np.exp(0.5 * field / field.std())


def cloth(size, rng):
    """A weave whose threads are 2.7 and 3.1 pixels wide, on folds."""
    y, x = np.mgrid[:size, :size]
    weave = np.sin(2 * np.pi * x / 5.4) * np.sin(2 * np.pi * y / 6.2)
    return np.exp(0.25 * weave + 0.4 * _fractal(size, 1.8, rng))


def shingle(size, rng):
    """A wide beach: pebbles that grow from half a pixel above to 20 pixels below."""
    parts = [foliage(size, rng, 0.5 * 2.5**k, 0.8 * 2.5**k) for k in range(5)]
    rows = np.array_split(np.arange(size), 5)
    return np.concatenate([part[part_rows] for part, part_rows in zip(parts, rows, strict=True)])


def bark(size, rng):
    """Ridges of a tree at all sizes: absolute values of fields, roughest in the dark."""
    ridges = sum(0.6**k * np.abs(_fractal(size, s, rng)) for k, s in enumerate((1.5, 1.1, 0.8)))
    return np.exp(0.7 * ridges - 1)


def snow(size, rng):
    """Bright and sparkling: a soft relief with glints of a pixel."""
    glints = rng.random((size, size)) < 0.01
    return np.exp(0.1 * _fractal(size, 1.4, rng)) + 0.6 * glints


def sand(size, rng):
    """Grains smaller than a pixel: white to the pixel, 8 % deep, as noise is."""
    return np.exp(0.08 * rng.normal(size=(size, size)) + 0.2 * _fractal(size, 1.8, rng))


def ramp(size, rng):
    """No texture: five stops from left to right, a little more below."""
    y, x = np.mgrid[:size, :size] / size
    return 2 ** (5 * x) * (1 + 0.1 * y)


TUNED = {
    "foliage 1.5-8 px": foliage, "grass": grass, "brick": brick, "skyline": skyline,
    "water": water, "no texture": ramp,
}  # fmt: skip
"""Scenes that the limits of `grading.develop.noise` were set on at first."""

HELD_BACK = {
    "foliage 4-20 px": lambda size, rng: foliage(size, rng, 4, 20), "gravel": gravel,
    "fur": fur, "cloth": cloth, "shingle": shingle, "bark": bark, "snow": snow, "sand": sand,
}  # fmt: skip
"""Scenes that were held back then; what makes a bin flat was chosen with all of them in view."""
