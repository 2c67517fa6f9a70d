"""A camera that is turned and pitched, and the upright canvas that its scenes are painted on.

The canvas is a plane that stands upright before the camera. A scene is painted on it with upright
walls upright and the horizon level; the camera then looks at it turned, up or down, through a lens
that may bend lines. So a horizon falls to the right by the camera's roll and by nothing else, and
upright lines converge as they do in a photograph.
"""

from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates

from inspect_frames import METER, noise_at

FINE = 2
"""Places of the canvas to a pixel of the picture, each way."""


@dataclass(frozen=True)
class Camera:
    """Picture size, focal length in pixels, metres above the water, row of the horizon below the
    middle, degrees by which the picture is turned clockwise, and share that the lens bends."""

    size: tuple[int, int]
    focal: float
    height: float
    row: float
    roll: float
    bends: float = 0.0

    def on_canvas(self, u, v):
        """Where a place of the picture lies on the canvas: pixels from the middle, below level."""
        far = 1 + self.bends * (u * u + v * v) / (self.size[1] / 2) ** 2
        u, v, angle = u * far, v * far, np.radians(self.roll)
        x, y = u * np.cos(angle) + v * np.sin(angle), v * np.cos(angle) - u * np.sin(angle)
        pitch = np.arctan2(self.row, self.focal)
        deep = self.focal * np.cos(pitch) + y * np.sin(pitch)
        return self.focal * x / deep, self.focal * (
            y * np.cos(pitch) - self.focal * np.sin(pitch)) / deep  # fmt: skip


def drawn_camera(rng, size, **stated):
    """A camera as people hold it; what is stated is so."""
    wide = rng.random() < 0.3
    drawn = {
        "focal": max(size) * rng.uniform(*((0.65, 0.9) if wide else (0.9, 3.0))),
        "height": rng.uniform(1.5, 7), "row": size[0] * rng.uniform(-0.25, 0.25),
        "roll": rng.uniform(-6, 6), "bends": rng.uniform(-0.04, 0.04) if wide else 0.0,
    }  # fmt: skip
    return Camera(size, **(drawn | stated))


@dataclass
class Canvas:
    """Light of a scene; ``x`` and ``t`` say where its columns and rows are, in pixels of the
    picture to the right of the middle and below the level of the eye."""

    camera: Camera
    x: np.ndarray = field(init=False)
    t: np.ndarray = field(init=False)
    light: np.ndarray = field(init=False)

    def __post_init__(self):
        rows, columns = self.camera.size
        v, u = np.mgrid[-1:1:33j, -1:1:33j] * np.array([rows / 2, columns / 2])[:, None, None]
        x, t = self.camera.on_canvas(u, v)
        self.x = np.arange(x.min() - 2, x.max() + 2, 1 / FINE, dtype=np.float32)[None]
        self.t = np.arange(t.min() - 2, t.max() + 2, 1 / FINE, dtype=np.float32)[:, None]
        self.light = np.zeros((self.t.size, self.x.size), np.float32)

    @property
    def bounds(self):
        """Least and most column and row."""
        return self.x[0, 0], self.x[0, -1], self.t[0, 0], self.t[-1, 0]

    def lay(self, cover, light):
        """Lay something over the whole canvas."""
        self.light += cover * (light - self.light)

    def box(self, left, right, top, bottom, light):
        """Lay an upright box over it."""
        x0, x1 = np.searchsorted(self.x[0], (left - 1, right + 1))
        y0, y1 = np.searchsorted(self.t[:, 0], (top - 1, bottom + 1))
        x, t = self.x[:, x0:x1], self.t[y0:y1]
        cover = inside(x - left) * inside(right - x) * (inside(t - top) * inside(bottom - t))
        self.light[y0:y1, x0:x1] += cover * (light - self.light[y0:y1, x0:x1])

    def pole(self, foot, bottom, tall, lean, wide, light):
        """Lay a straight pole over it that leans to the right by some degrees."""
        slope = np.tan(np.radians(lean))
        reach = abs(slope) * tall + wide + 2
        x0, x1 = np.searchsorted(self.x[0], (foot - reach, foot + reach))
        y0, y1 = np.searchsorted(self.t[:, 0], (bottom - tall, bottom))
        x, t = self.x[:, x0:x1], self.t[y0:y1]
        cover = inside(wide / 2 - np.abs(x - foot - slope * (bottom - t)))
        self.light[y0:y1, x0:x1] += cover * (light - self.light[y0:y1, x0:x1])

    def taken(self):
        """The picture that the camera takes, shape of its size, float64."""
        rows, columns = self.camera.size
        v, u = (np.mgrid[: rows * FINE, : columns * FINE] + 0.5) / FINE
        x, t = self.camera.on_canvas(u - columns / 2, v - rows / 2)
        at = [(t - self.t[0, 0]) * FINE, (x - self.x[0, 0]) * FINE]
        fine = map_coordinates(self.light, at, order=1, mode="nearest", output=np.float64)
        return fine.reshape(rows, FINE, columns, FINE).mean((1, 3))


def inside(pixels):
    """Cover of a border that so many pixels lie within, 0 to 1."""
    return np.clip(FINE * pixels + 0.5, 0, 1)


def texture(rng, shape, smooth):
    """A random texture of deviation 1, smooth down the rows and along them."""
    made = gaussian_filter(rng.standard_normal(shape, np.float32), smooth, mode="wrap")
    return made / made.std()


def course(rng, x, length):
    """A random course over columns, of deviation 1, smooth over some pixels."""
    least = x.min()
    knots = gaussian_filter(rng.standard_normal(int(np.ptp(x)) + 8), max(length, 0.3), mode="wrap")
    return np.interp(x - least, np.arange(knots.size), knots / knots.std()).astype(np.float32)


def recorded(light, seed, iso, averaged=64):
    """A metered picture with its noise, float32, and the noise of a pixel of it."""
    rng = np.random.default_rng(seed + 501)
    noise = noise_at(iso).averaged(averaged)
    light = gaussian_filter(light, rng.uniform(0.3, 0.7))
    metered = np.mean(np.minimum(light, 8 * np.median(light)))
    light = light * METER * 2 ** rng.normal(0, 0.5) / metered
    light = light + rng.normal(0, 1, light.shape) * np.sqrt(noise.gain * light + noise.offset)
    return np.minimum(light, 1).astype(np.float32), noise
