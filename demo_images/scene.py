"""Put one frame together: sky, hills, town, water, the boat, and the lens."""

import numpy as np
from scipy.ndimage import gaussian_filter, shift, zoom

from boats import paint_boats, plan_boats
from deck import paint_deck
from paint import look_up
from quay import paint_mole, paint_quay
from sky import paint_gulls, paint_hills, paint_sky
from town import paint_town, plan_houses, plan_lamps
from view import OVERSAMPLING
from water import paint_water


def paint(view, evening, seed):
    """Camera RGB in cd/m2 of one frame, shape (height, width, 3), float32."""
    canvas = np.zeros((*view.shape, 3), np.float32)
    lamps = plan_lamps()
    paint_sky(canvas, view, evening)
    paint_gulls(canvas, view, evening)
    paint_hills(canvas, view, evening)
    paint_town(canvas, view, evening, plan_houses(), lamps)
    paint_mole(canvas, view, evening)
    paint_quay(canvas, view, evening, lamps)
    boats = np.zeros((*view.shape, 4), np.float32)
    paint_boats(boats, view, evening, plan_boats())
    paint_water(canvas, boats, view, evening, seed)
    canvas = canvas * (1 - boats[..., 3:]) + boats[..., :3]
    deck = paint_deck(view, evening)
    return lens(rolled(canvas, view) * (1 - deck[..., 3:]) + deck[..., :3])


def rolled(canvas, view):
    """Turn the canvas by the boat's roll and average it down to the picture's size."""
    rows, columns = view.shape
    angle = np.radians(view.roll)
    y, x = np.mgrid[: view.height, : view.width].astype(np.float32)
    picture = np.zeros((view.height, view.width, 3), np.float32)
    for dy in (-0.5, 0.5):
        for dx in (-0.5, 0.5):
            right = OVERSAMPLING * (x + 0.5 - view.width / 2) + dx
            below = OVERSAMPLING * (y + 0.5 - view.height / 2) + dy
            row = rows / 2 - 0.5 + below * np.cos(angle) - right * np.sin(angle)
            column = columns / 2 - 0.5 + right * np.cos(angle) + below * np.sin(angle)
            picture += look_up(canvas, row, column)
    return picture / 4


def shaken(picture, length, rng):
    """Blur along a short, bent path, as of a camera moved while the shutter was open."""
    steps = max(int(2 * length), 2)
    t = np.linspace(-0.5, 0.5, steps)
    bend = rng.uniform(0.5, 0.8)
    path = length * np.stack([0.35 * t + bend * t**2, t], axis=1)
    moved = [shift(picture, (dy, dx, 0), order=1, mode="nearest") for dy, dx in path]
    return np.mean(moved, axis=0, dtype=np.float32)


def lens(picture):
    """Slight blur, veiling glare round lights, and fall-off to the corners."""
    height, width = picture.shape[:2]
    picture = gaussian_filter(picture, (0.7, 0.7, 0))
    scale = width / 1536
    glare = 0.93 * picture
    for sigma, share in ((3.0 * scale, 0.04), (14.0 * scale, 0.018), (70.0 * scale, 0.012)):
        glare += share * _wide_blur(picture, sigma)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    radius = (x**2 + (y * height / width) ** 2) / (1 + (height / width) ** 2)
    return (glare * (1 - 0.28 * radius)[..., None]).astype(np.float32)


def _wide_blur(picture, sigma):
    """Gaussian blur, at reduced size where the blur is wide."""
    step = max(1, int(sigma // 4))
    height, width = picture.shape[0] // step * step, picture.shape[1] // step * step
    small = picture[:height, :width].reshape(height // step, step, width // step, step, 3)
    small = gaussian_filter(small.mean(axis=(1, 3)), (sigma / step, sigma / step, 0))
    factors = picture.shape[0] / small.shape[0], picture.shape[1] / small.shape[1], 1
    return zoom(small, factors, order=1, mode="nearest", grid_mode=True)
