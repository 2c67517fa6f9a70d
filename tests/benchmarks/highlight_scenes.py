"""Scenes that a simulated sensor clips, with what it would have seen without a limit.

Skies with clouds, hills, birds and a mast; discs of light at dusk; frames of the demo set, painted
anew at more light. None is a photograph. Skies and lamps are made in scene light (linear ITU-R
BT.2020, 1 where green clips) and seen by one of two invented cameras.
"""

from dataclasses import dataclass
from importlib import import_module

import numpy as np
from scipy.ndimage import gaussian_filter, zoom

from grading.colour.camera import camera_to_working, neutral_to_xy
from grading.frame import Calibration, Camera
from kernels.raws import DEMO_RANGE, counts, noisy, sample

CAMERAS = {
    "one": ([[0.80, 0.22, -0.02], [0.16, 0.90, -0.06], [0.02, 0.18, 0.80]], (2.0, 1.0, 1.6)),
    "two": ([[0.68, 0.36, -0.04], [0.10, 1.02, -0.12], [-0.03, 0.31, 0.72]], (1.55, 1.0, 2.3)),
}
"""What each sees of scene light, rows of sum 1, and the gains that balance it."""

TINTS = {
    "white": (1, 1, 1),
    "warm": (1, 0.72, 0.42),
    "sodium": (1, 0.52, 0.06),
    "red": (1, 0.08, 0.05),
    "green": (0.12, 1, 0.25),
    "blue": (0.06, 0.2, 1),
    "magenta": (1, 0.15, 0.8),
}
RADII = (2, 3, 4, 6, 8, 15, 30, 60)
NOISE = (6e-5, 4e-8)


@dataclass(frozen=True)
class Scene:
    """What a sensor without a limit sees, and what to know of it.

    Attributes
    ----------
    name : str
    light : ndarray, shape (3, rows, columns)
        Camera RGB, not balanced; a sensor with a limit clips it at 1.
    gains : ndarray, shape (3,)
    to_working : ndarray, shape (3, 3)
        From balanced camera RGB to linear ITU-R BT.2020.
    dark : ndarray, shape (rows, columns), bool
        Small dark things.
    held : bool
        Whether it was kept out of all tuning.
    noise : tuple of float
    crops : tuple of (int, int, int, int)
        What to look at: top, bottom, left and right.
    lamps : tuple of (int, int)
        Rows and columns of the middles of lamps, all radii of a tint after each other.
    """

    name: str
    light: np.ndarray
    gains: np.ndarray
    to_working: np.ndarray
    dark: np.ndarray
    held: bool
    noise: tuple = NOISE
    crops: tuple = ()
    lamps: tuple = ()

    def mosaic(self):
        """Counts of a sensor with a limit."""
        return counts(noisy(sample(self.light), *self.noise))


def seen(name, light, dark, held, camera, **more):
    """A scene of scene light, behind a lens and before a camera."""
    matrix, gains = (np.array(part) for part in CAMERAS[camera])
    light = np.tensordot(matrix, lens(light), axes=1) / gains[:, None, None]
    return Scene(name, light, gains, np.linalg.inv(matrix), dark, held, **more)


def lens(light):
    """Slight blur and some veiling glare about lights."""
    blurred = [gaussian_filter(light, (0, sigma, sigma)) for sigma in (0.8, 6, 30)]
    return 0.975 * blurred[0] + 0.018 * blurred[1] + 0.007 * blurred[2]


def clouds(shape, seed):
    """Noise of many sizes, the large ones strongest; of unit deviation."""
    rng = np.random.default_rng(seed)
    total = np.zeros(shape)
    for octave in range(1, 8):
        size = 3 * 2**octave // 2, 2 * 2**octave
        factors = [n / s for n, s in zip(shape, size, strict=True)]
        total += 0.5**octave * zoom(rng.normal(size=size), factors, order=3)
    return total / total.std()


def sky(name, low, high, levels, held, *, sun=None, cloud=0.12, seed=1, camera="one"):
    """From a colour above to one at the horizon; levels in stops of the brightest channel."""
    shape = 600, 900
    y, x = np.mgrid[0 : 1 : shape[0] * 1j, 0 : 1.5 : shape[1] * 1j]
    share = np.clip(y / 0.85, 0, 1) ** 1.3
    low, high = (np.array(c) / max(c) for c in (low, high))
    light = (1 - share) * high[:, None, None] + share * low[:, None, None]
    stops = levels[0] + (levels[1] - levels[0]) * share + cloud * clouds(shape, seed)
    light = light * np.exp2(stops)
    if sun is not None:
        tint, strength, spread = sun
        glow = strength * np.exp(-np.hypot(y - 0.66, x - 0.95) / spread)
        light = light + glow * np.reshape(tint, (3, 1, 1))
    hills = 0.86 - 0.05 * np.sin(4 * x + seed) + 0.012 * clouds(shape, seed + 1)
    light = np.where(y > hills, np.reshape((0.03, 0.035, 0.025), (3, 1, 1)), light)
    dark = small_things(y, x, seed) & (y < hills)
    light = np.where(dark, np.reshape((0.05, 0.045, 0.04), (3, 1, 1)), light)
    crops = ((320, 420, 260, 420), (360, 500, 480, 700), (100, 220, 250, 450))
    return seen(name, light, dark, held, camera, crops=crops)


def small_things(y, x, seed):
    """Birds of a few pixels, and a mast with stays."""
    rng = np.random.default_rng(seed)
    dark = np.abs(x - 0.55) < 0.0025
    dark |= np.abs(x - 0.55 - 0.3 * (y - 0.3)) < 0.0008
    dark &= y > 0.3
    for _ in range(14):
        row, column, span = rng.uniform(0.1, 0.8), rng.uniform(0.05, 1.45), rng.uniform(0.006, 0.02)
        u, v = (x - column) / span, (y - row) / span
        dark |= (np.abs(u) < 1) & (np.abs(v + 0.5 * np.abs(u) * (1 - np.abs(u))) < 0.13)
    return dark


def lamps(name, tints, held, *, camera="one", seed=1):
    """Discs of light at dusk, a row a tint, their brightest channel 2 to 12 times white."""
    rng = np.random.default_rng(seed)
    step, shape = 150, (150 * len(tints), 150 * len(RADII))
    y, x = np.indices(shape)
    light = 0.03 * np.reshape((0.6, 0.8, 1.3), (3, 1, 1)) * (1 + 0.2 * clouds(shape, seed))
    middles = []
    for i, tint in enumerate(tints):
        for j, radius in enumerate(RADII):
            middle = step * (i + 0.5) + rng.uniform(-4, 4), step * (j + 0.5) + rng.uniform(-4, 4)
            away = np.hypot(y - middle[0], x - middle[1]) / radius
            inside = np.clip((1 - away) * radius + 0.5, 0, 1)
            level = 2 ** rng.uniform(1, 3.6) * (1 - 0.35 * np.clip(away, 0, 1) ** 2)
            colour = np.reshape(TINTS[tint], (3, 1, 1)) / max(TINTS[tint])
            light = light * (1 - inside) + inside * level * colour
            middles.append((round(middle[0]), round(middle[1])))
    rows = (step * (i + 0.5) for i in range(len(tints)))
    crops = tuple((int(row - 40), int(row + 40), 180, 730) for row in rows)
    dark = np.zeros(shape, bool)
    return seen(name, light, dark, held, camera, crops=crops, lamps=tuple(middles))


def painted(number, stops, held, crops, width=768, height=512):
    """A frame of the demo set at more light."""
    camera, light, make_demo, scene, view = map(
        import_module, ("camera", "light", "make_demo", "scene", "view")
    )
    shot, eye = make_demo.SHOTS[number - 1], camera.Sensor()
    evening = light.evening(shot.minutes, eye)
    pose = {name: getattr(shot, name) for name in ("x", "z", "pan", "tilt", "roll")}
    picture = scene.paint(view.View(width, height, **pose), evening, seed=number)
    settings = make_demo.nearest_settings(shot, 0.127 / camera.metered(picture))
    neutral = camera.automatic_neutral(evening, eye, np.random.default_rng(1000 + number))
    lights = {2856.0: light.blackbody_spectrum, 6504.0: light.daylight_spectrum}
    calibrations = (Calibration(k, eye.color_matrix(make(k))) for k, make in lights.items())
    eyes = Camera(tuple(calibrations), neutral)
    gains = neutral[1] / neutral
    to_working = camera_to_working(eyes, neutral_to_xy(eyes, neutral)) / gains
    noise = settings.gain / DEMO_RANGE, (settings.read_noise / DEMO_RANGE) ** 2
    seen = (picture * settings.exposure * 2**stops).transpose(2, 0, 1).astype(float)
    dark = np.zeros(picture.shape[:2], bool)
    return Scene(f"frame {number}, {stops:+g}", seen, gains, to_working, dark, held, noise, crops)


CROPS = ((60, 200, 400, 600), (60, 200, 200, 400), (200, 340, 300, 500))

SCENES = {
    "sunset": lambda: sky(
        "sunset", (1, 0.62, 0.3), (0.55, 0.72, 1), (1.1, -0.7), False,
        sun=((1, 0.72, 0.4), 4, 0.13), seed=1,
    ),
    "blue hour": lambda: sky("blue hour", (0.62, 0.72, 1), (0.3, 0.5, 1), (1.8, 0), False, seed=2),
    "lamps A": lambda: lamps("lamps A", ("white", "sodium", "green", "blue"), False),
    "frame 2": lambda: painted(2, 1.5, False, CROPS),
    "pink": lambda: sky(
        "pink", (1, 0.66, 0.62), (0.85, 0.66, 1), (1.2, 0.2), True,
        sun=((1, 0.6, 0.55), 1.5, 0.2), seed=3,
    ),
    "blue hour, whole": lambda: sky(
        "blue hour, whole", (0.62, 0.75, 1), (0.3, 0.5, 1), (2.2, 1.2), True, seed=4
    ),
    "day": lambda: sky("day", (0.95, 1, 1), (0.5, 0.7, 1), (1.3, 0), True, seed=5, cloud=0.5),
    "sunset, camera two": lambda: sky(
        "sunset, camera two", (1, 0.5, 0.22), (0.7, 0.75, 1), (1.4, -0.3), True,
        sun=((1, 0.66, 0.35), 3, 0.1), seed=6, camera="two",
    ),
    "blue hour, camera two": lambda: sky(
        "blue hour, camera two", (0.5, 0.7, 1), (0.25, 0.5, 1), (1.9, 0.1), True,
        seed=7, camera="two",
    ),
    "lamps B": lambda: lamps("lamps B", ("warm", "red", "magenta"), True, seed=2),
    "lamps, camera two": lambda: lamps(
        "lamps, camera two", tuple(TINTS), True, camera="two", seed=3
    ),
    "frame 5": lambda: painted(5, 0, True, CROPS),
    "frame 7": lambda: painted(7, 2, True, CROPS),
}  # fmt: skip
"""Makers of scenes; those that are not held back come first."""
