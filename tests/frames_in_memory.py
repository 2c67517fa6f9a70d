"""Frames and recipes made of arrays and mappings, for tests that need no files."""

from pathlib import Path

import numpy as np

from grading.colour import oklab
from grading.frame import Calibration, Camera, Facts, Frame
from grading.recipe.load import recipe_from_mapping
from grading.signal import Signal

PLACE = "in-memory"


class ArrayPixels:
    """Planar pixels, shape (3, height, width), read as `grading.frame.Pixels` are."""

    def __init__(self, planes):
        self.planes = np.ascontiguousarray(planes, np.float32)
        _, self.height, self.width = self.planes.shape

    def read(self, region):
        return self.planes[:, region.top : region.bottom, region.left : region.right].copy()

    def reduced(self, factor):
        def block_sums(planes):
            sums = np.add.reduceat(planes, np.arange(0, self.height, factor), axis=1)
            return np.add.reduceat(sums, np.arange(0, self.width, factor), axis=2)

        count = block_sums(np.ones((1, self.height, self.width)))
        return (block_sums(self.planes.astype(np.float64)) / count).astype(np.float32)


def facts(width=1, height=1, camera=None, noise=None):
    return Facts(Path(PLACE), width, height, "test", camera, noise=noise)


def signal(width=1, height=1, camera=None):
    """What the pixels of such a frame are before any stage."""
    return Signal.of(Frame(facts(width, height, camera), None))


def frame(planes, camera=None, noise=None):
    pixels = ArrayPixels(planes)
    return Frame(facts(pixels.width, pixels.height, camera, noise), pixels)


def recipe(**keys):
    """A recipe of stage names (and ``local``) with plain values."""
    return recipe_from_mapping({"grading": 1, "title": "test", **keys}, PLACE)


def scene(height, width, seed=0):
    """Random light over fifteen stops with smooth parts, edges, texture, negatives and lights."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width] / max(height, width)
    stops = 6 * np.sin(5 * x + 3 * y) + 2 * np.sign(np.sin(9 * x) * np.sin(11 * y))
    stops = stops + rng.normal(0, 0.3, (3, height, width)) - 1
    light = 0.18 * np.exp2(stops)
    light[:, rng.random((height, width)) < 0.01] *= -0.05
    return light.astype(np.float32)


def two_matrix_camera(neutral=(0.5, 1.0, 0.7)):
    """A made-up camera: sharpened cones with cross-talk that differs between its two lights."""
    warm = np.array([[0.9, -0.2, -0.05], [-0.4, 1.25, 0.15], [-0.05, 0.2, 0.55]])
    cold = np.array([[0.8, -0.15, -0.08], [-0.45, 1.3, 0.12], [-0.08, 0.22, 0.6]])
    return Camera((Calibration(2856.0, warm), Calibration(6504.0, cold)), np.array(neutral))


def planes_of(colours):
    """Colours (n, 3) as planes of one row, float32."""
    return np.ascontiguousarray(np.asarray(colours, np.float64).T[:, None], np.float32)


def colours_of(planes):
    """Planes as colours (n, 3), float64."""
    return planes.reshape(3, -1).T.astype(np.float64)


def light_of_oklab(lightness, chroma, hue):
    """Working light of Oklab lightness, chroma and hue in degrees, (n, 3)."""
    a, b = chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))
    return oklab.oklab_to_working(np.stack(np.broadcast_arrays(lightness, a, b), axis=-1))


def turn(hue, other):
    """Difference of two hues in degrees, -180..180."""
    return (np.asarray(hue) - other + 180) % 360 - 180
