"""Frames with a known blur, lean, exposure and noise: a town at the water that is never the same.

Walls, windows and masts stand on a shore before hills and sky. Walls are upright but for the turn
of the camera, masts lean by themselves, and the shore is in perspective. Drawn at twice the size.
"""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
from scipy.ndimage import gaussian_filter, map_coordinates
from scipy.ndimage import shift as shifted
from scipy.signal import fftconvolve

from frames_in_memory import frame
from grading.frame import Capture, Noise

METER = 0.127
SITES = ((0.6, 1), (1.0, 2), (0.7, 1))
"""What red, green and blue see of neutral light, and their sites in a block of four."""

WELL, READ, BEHIND = 52_000, 2.4, 1.0e-4
"""Electrons of a site at ISO 100; noise of reading, before and after the gain."""

START = datetime(2026, 5, 2, 19, 0)


def town(seed, size=(400, 600), roll=0.0, convergence=0.0):
    """Light of a town, turned clockwise by ``roll`` degrees; shape ``size``, float64."""
    rng = np.random.default_rng(seed)
    rows, columns = (int(2.6 * side) for side in size)
    y, x = np.mgrid[:rows, :columns]
    ridge = 0.35 + 0.05 * np.sin(x / columns * rng.uniform(3, 9) + rng.uniform(0, 6))
    picture = np.where(y < rows * ridge, 0.5 + 0.4 * y / rows, 0.06)
    shore = int(rows * rng.uniform(0.55, 0.7))
    for _ in range(rng.integers(12, 40)):
        _paint_house(picture, shore, rng)
    for _ in range(rng.integers(0, 8)):
        _paint_mast(picture, shore, rng)
    waves = rng.normal(0, 0.35, (rows // 6 + 1, columns // 10 + 1))
    waves = np.kron(gaussian_filter(waves, 0.6), np.ones((6, 10)))[:rows, :columns]
    water = y > shore + np.tan(np.radians(rng.normal(0, 1.5))) * (x - columns / 2)
    picture = np.where(water, 0.25 * np.exp(gaussian_filter(waves, 1.5)), picture)
    grain = np.kron(rng.normal(0, 0.05, (rows // 2, columns // 2)), np.ones((2, 2)))
    return _seen(picture * np.exp(grain), size, roll, convergence)


def _paint_house(picture, shore, rng):
    rows, columns = picture.shape
    width, height = int(rng.uniform(0.03, 0.12) * columns), int(rng.uniform(0.08, 0.35) * rows)
    left, step = rng.integers(0, columns - width), rng.integers(14, 40)
    picture[shore - height : shore, left : left + width] = np.exp(rng.normal(-1.8, 0.7))
    window = rng.choice([0.4, 0.6, 1.8, 2.5])
    for top in range(shore - height + 6, shore - step, 2 * step):
        for side in range(left + 6, left + width - step // 2, step):
            picture[top : top + step, side : side + step // 2] *= window


def _paint_mast(picture, shore, rng):
    rows, columns = picture.shape
    foot, width = rng.integers(0, columns), rng.integers(2, 8)
    lean = np.tan(np.radians(rng.normal(0, 2.5)))
    for up in range(int(rng.uniform(0.2, 0.45) * rows)):
        side = max(int(foot + lean * up), 0)
        picture[shore - up, side : side + width] = 0.03


def _seen(picture, size, roll, convergence):
    """The middle of a picture at half its size, turned; lines lean in by ``convergence`` degrees
    at the right side."""
    angle, (rows, columns) = np.radians(roll), (2 * side for side in size)
    v, u = np.mgrid[:rows, :columns].astype(float)
    v, u = v - rows / 2 + 0.5, u - columns / 2 + 0.5
    x, y = u * np.cos(angle) + v * np.sin(angle), v * np.cos(angle) - u * np.sin(angle)
    x = x * (1 + 2 * np.tan(np.radians(convergence)) * y / columns)
    middle = (picture.shape[0] / 2, picture.shape[1] / 2)
    fine = map_coordinates(picture, [y + middle[0], x + middle[1]], order=1, mode="nearest")
    return fine.reshape(size[0], 2, size[1], 2).mean((1, 3))


def turned(light, degrees):
    """A picture turned clockwise about its middle."""
    angle, (rows, columns) = np.radians(degrees), light.shape
    v, u = np.mgrid[:rows, :columns].astype(float)
    v, u = v - rows / 2 + 0.5, u - columns / 2 + 0.5
    y, x = v * np.cos(angle) - u * np.sin(angle), u * np.cos(angle) + v * np.sin(angle)
    at = [y + rows / 2 - 0.5, x + columns / 2 - 0.5]
    return map_coordinates(light, at, order=1, mode="reflect")


def path(length, angle, bend=0.0):
    """Kernel of a move of ``length`` pixels at ``angle`` degrees anticlockwise; bent to a bow."""
    t = (np.arange(int(8 * length)) + 0.5) / int(8 * length) - 0.5
    turn, across = np.radians(angle), length * bend * (t * t - 1 / 12)
    dx = length * t * np.cos(turn) - across * np.sin(turn)
    dy = -(length * t * np.sin(turn) + across * np.cos(turn))
    reach = int(np.ceil(0.75 * length)) + 2
    kernel = np.zeros((2 * reach + 1, 2 * reach + 1))
    left, top = np.floor(dx).astype(int), np.floor(dy).astype(int)
    for y, wy in ((top, 1 - dy + top), (top + 1, dy - top)):
        for x, wx in ((left, 1 - dx + left), (left + 1, dx - left)):
            np.add.at(kernel, (y + reach, x + reach), wy * wx)
    return kernel / kernel.sum()


def circle(radius):
    """Kernel of a circle of confusion."""
    reach = int(radius) + 2
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    kernel = np.clip(radius + 0.5 - np.hypot(y, x), 0, 1)
    return kernel / kernel.sum()


def blurred(light, kernel):
    """A picture under a kernel."""
    reach = kernel.shape[0] // 2
    padded = np.pad(light, reach, mode="reflect")
    return np.maximum(fftconvolve(padded, kernel, mode="valid"), 0)


def moved(light, down, right):
    """A picture moved by parts of a pixel."""
    return shifted(light, (down, right), order=1, mode="reflect")


def noise_at(iso):
    """The noise of a site."""
    gain = iso / 100 / WELL
    return Noise(gain, (READ * gain) ** 2 + BEHIND**2)


def shot(light, seed, iso=200, stops=0.0, seconds=0.0, **capture):
    """A frame of a scene: metered, ``stops`` from that, recorded with noise.

    A pixel has so much more variance than a site that the mean of a block of four has that of its
    one red, two green and one blue site.
    """
    rng, noise = np.random.default_rng(seed), noise_at(iso)
    light = gaussian_filter(light, 0.4)
    signal = light * (METER * 2**stops / np.minimum(light, 8 * np.median(light)).mean())
    planes = [_recorded(tint * signal, 4 / sites, noise, rng) for tint, sites in SITES]
    made = frame(np.stack(planes), noise=noise)
    facts = {"shutter": 2**stops / 60, "aperture": 5.6, "iso": iso, "focal_length": 35.0,
             "time": (START + timedelta(seconds=seconds)).isoformat()}  # fmt: skip
    stated = Capture(**{"model": "Invented"} | facts | capture)
    return replace(made, facts=replace(made.facts, capture=stated))


def _recorded(signal, more, noise, rng):
    """A signal with ``more`` times the variance of a site's noise, clipped at white."""
    gain = more * noise.gain
    counted = rng.poisson(np.minimum(signal, 4) / gain) * gain
    return np.minimum(counted + rng.normal(0, (more * noise.offset) ** 0.5, signal.shape), 1)
