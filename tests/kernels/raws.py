"""Mosaics with a known truth."""

from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
import yaml

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.highlights import highlight_guide
from grading.kernels.raw.mosaic import Sensor

WHITE, BLACK = 60512, 512
DEMO_TRUTH = Path(__file__).parents[2] / "demo_images" / "harbour_truth.yaml"
DEMO_WHITE, DEMO_BLACK = 16383, 512
DEMO_RANGE = DEMO_WHITE - DEMO_BLACK
METERED = 0.28
"""Brings the mean of a photograph to about 0.127 of saturation, as a meter does (ISO 12232)."""

PHOTOGRAPHS = ("astronaut", "coffee", "chelsea", "rocket")
BALANCE = np.array([2.0, 1.0, 1.6])
SHAPE = (256, 261)


def sensor(shape, phase=(0, 0), black=BLACK, white=WHITE, noise=(0.0, 0.0)):
    """Equal levels at all sites, nothing special about any row or column."""
    return Sensor(
        phase,
        np.full(4, black, np.float32),
        np.full(4, 1 / (white - black), np.float32),
        np.zeros(shape[0], np.float32),
        np.zeros(shape[1], np.float32),
        noise,
    )


def sample(rgb, phase=(0, 0)):
    """What each site sees of a planar picture, in signal."""
    rows, columns = np.indices(rgb.shape[1:])
    red_row, red_column = (rows - phase[0]) % 2 == 0, (columns - phase[1]) % 2 == 0
    return np.where(red_row & red_column, rgb[0], np.where(red_row | red_column, rgb[1], rgb[2]))


def counts(signal, black=BLACK, white=WHITE):
    """Counts of a sensor that clips at `white`."""
    return np.clip(np.rint(signal * (white - black) + black), 0, white).astype(np.uint16)


def develop(mosaic, balance=(1.0, 1.0, 1.0), **options):
    """The whole mosaic, demosaiced."""
    rows, columns = mosaic.shape
    return demosaic_tile(mosaic, 0, rows, 0, columns, sensor(mosaic.shape, **options), balance)


def noisy(signal, gain, offset, seed=5):
    """Signal with Gaussian noise of variance ``gain * signal + offset``."""
    rng = np.random.default_rng(seed)
    return signal + rng.normal(size=signal.shape) * np.sqrt(gain * signal + offset)


def demo_noise(name):
    """Gain and offset of a demo frame's noise, in signal, from the truth about the set."""
    (facts,) = [f for f in yaml.safe_load(DEMO_TRUTH.read_text()) if f["file"] == name]
    return facts["noise_alpha"] / DEMO_RANGE, (facts["read_noise"] / DEMO_RANGE) ** 2


def demo_scene(number, width=1536, height=1024):
    """A frame of the demo set made again.

    Returns
    -------
    truth : ndarray, shape (3, height, width)
        What a sensor without noise would see, clipped.
    mosaic : ndarray, shape (height, width), uint16
    noise : tuple of float
        Gain and offset.
    balance : ndarray, shape (3,)
        Gains of the camera's automatic white balance.
    """
    camera, light, make_demo, scene, view = map(
        import_module, ("camera", "light", "make_demo", "scene", "view")
    )
    shot, eye = make_demo.SHOTS[number - 1], camera.Sensor()
    rng = np.random.default_rng(1000 + number)
    evening = light.evening(shot.minutes, eye)
    pose = {name: getattr(shot, name) for name in ("x", "z", "pan", "tilt", "roll")}
    picture = scene.paint(view.View(width, height, **pose), evening, seed=number)
    settings = make_demo.nearest_settings(shot, 0.127 / camera.metered(picture))
    neutral = camera.automatic_neutral(evening, eye, rng)
    mosaic = camera.record(picture, settings, rng)
    noise = settings.gain / DEMO_RANGE, (settings.read_noise / DEMO_RANGE) ** 2
    truth = np.clip((picture * settings.exposure).transpose(2, 0, 1), 0, 1)
    return truth, mosaic, noise, neutral[1] / neutral


def psnr(picture, truth, border=10):
    """One mean square error for all colours, the picture clipped to 0 and 1."""
    error = (np.clip(picture, 0, 1) - truth)[:, border:-border, border:-border]
    return -10 * np.log10(np.mean(error * error))


def photograph(name):
    """A picture of scikit-image's, planar, its codes taken for linear light."""
    data = pytest.importorskip("skimage.data", reason="the pictures are scikit-image's")
    return getattr(data, name)()[..., :3].transpose(2, 0, 1) / 255


def published(name, mosaic):
    """A published method on a signal: ``bilinear``, ``Malvar2004`` or ``Menon2007``; planar."""
    oracle = pytest.importorskip("colour_demosaicing", reason="the published method's oracle")
    return getattr(oracle, f"demosaicing_CFA_Bayer_{name}")(mosaic, "RGGB").transpose(2, 0, 1)


def zone_plate(size=400):
    """Grey rings of up to 0.9 of half the sampling rate at the middle of an edge."""
    y, x = np.indices((size, size)) - size / 2 + 0.3
    return 0.5 + 0.45 * np.cos(np.pi * 0.9 * (x * x + y * y) / size), np.hypot(x, y)


def lamp(tint, peak=3.0, spread=25.0, centre=(120, 130)):
    """Balanced light of an exponential glow over a bluish night."""
    y, x = np.indices(SHAPE)
    glow = peak * np.exp(-np.hypot(y - centre[0], x - centre[1]) / spread)
    return glow * np.reshape(tint, (3, 1, 1)) + np.reshape((0.02, 0.03, 0.06), (3, 1, 1))


def developed(light):
    """Clipped picture, rebuilt picture (both balanced) and how many channels clip."""
    mosaic = counts(sample(light / BALANCE[:, None, None]))
    facts = sensor(SHAPE, noise=(1e-4, 1e-6))
    whole = mosaic, 0, SHAPE[0], 0, SHAPE[1], facts, BALANCE
    guide = highlight_guide(mosaic, facts, BALANCE)
    clipped, rebuilt = demosaic_tile(*whole), demosaic_tile(*whole, guide)
    gains = BALANCE[:, None, None]
    return clipped * gains, rebuilt * gains, (clipped > 0.985).sum(0)
