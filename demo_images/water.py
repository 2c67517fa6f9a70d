"""The harbour's surface: what each wavelet mirrors, and how much of it (Fresnel)."""

from functools import cache

import numpy as np

from boats import PONTOON
from paint import TILE, lay, look_up, noise_tile, sample
from quay import MOLE, MOLE_LENGTH
from town import SHORE, SHORE_END

SAMPLES = 4
# Size of the repeating square of waves in metres, and the root-mean-square slope.
_WAVES = ((4.7, 0.013), (21.0, 0.02), (131.0, 0.011))
_BODY = np.array((0.012, 0.035, 0.034))


@cache
def wave_slopes(seed, shortest, longest):
    """Slopes toward the viewer and to the side of a tileable field of waves.

    Wavelengths run from `shortest` to `longest` in shares of the tile; amplitude falls as the
    wavelength squared, crests lie mostly across the view.

    Returns
    -------
    ndarray, shape (2, TILE, TILE), float32
        Unit root-mean-square together.
    """
    rng = np.random.default_rng(seed)
    fy = np.fft.fftfreq(TILE)[:, None] * TILE
    fx = np.fft.rfftfreq(TILE)[None] * TILE
    k = np.hypot(fx, fy)
    k[0, 0] = np.inf
    direction = 0.25 + 0.75 * np.abs(fy / k) ** 1.5
    band = (k > 1 / longest) & (k < 1 / shortest)
    height = np.fft.rfft2(rng.standard_normal((TILE, TILE))) * band * direction * k**-1.9
    slopes = np.stack([np.fft.irfft2(1j * f * height, s=(TILE, TILE)) for f in (fy, fx)])
    return (slopes / np.sqrt((slopes**2).mean() * 2)).astype(np.float32)


def paint_water(canvas, layer, view, evening, seed):
    """Fill the canvas below the waterline from what stands above it.

    Parameters
    ----------
    canvas : ndarray, shape (rows, columns, 3), float32
        Painted above the water; changed in place.
    layer : ndarray, shape (rows, columns, 4), float32
        Boats, nearer than the shore, premultiplied by their cover.
    seed : int
        Another moment's waves.
    """
    rng = np.random.default_rng(seed)
    edge = _waterline(view, SHORE, MOLE)
    feet = _faded(edge, view), _waterline(view, PONTOON)
    first = int(np.flatnonzero(view.up < edge.max())[0])
    for top in range(first, len(view.up), 64):
        rows = slice(top, min(top + 64, len(view.up)))
        water = view.up[rows, None] < edge
        colour = _band(canvas, layer, view, evening, rows, feet, rng, seed)
        lay(canvas, rows, colour, water)


def _waterline(view, wall, beyond=None):
    """Tangent of the nearest mirror-foot at every column; the horizon where nothing stands."""
    u, depth = wall.columns(view)
    line = np.where(u < SHORE_END, -view.eye / depth, -1e-4)
    if beyond is not None:
        u, depth = beyond.columns(view)
        line = np.where((u > -1) & (u < MOLE_LENGTH), -view.eye / depth, line)
    return line.astype(np.float32)


def _faded(edge, view):
    """Let the mirror-foot run out to the horizon beyond the last thing that stands in the water."""
    end = int(np.flatnonzero(edge < -2e-4)[-1])
    foot = edge.copy()
    foot[end:] = edge[end] * np.exp(-(view.across[end:] - view.across[end]) / 0.06)
    return foot


def _band(canvas, layer, view, evening, rows, feet, rng, seed):
    """Camera RGB of some rows of water: the mean of what its facets mirror and transmit.

    A facet counts by how far it is turned to the viewer, so that backs of waves stay hidden.
    """
    down = np.maximum(-view.up[rows, None], 1e-4)
    across = view.across[None]
    total, weights = 0.0, 0.0
    for _ in range(SAMPLES):
        jitter = rng.uniform(-0.5, 0.5, (down.shape[0], across.shape[1])).astype(np.float32)
        distance = view.eye / np.maximum(down + jitter / view.focal, 2e-4)
        lean, side = _slopes(view, across, distance, seed)
        seen = np.maximum(down + lean, 0.06 * down)
        lift = np.abs(down + 2 * lean)
        mirrored = _mirror(canvas, layer, view, rows, feet, lift - down, 2 * side * down)
        fresnel = 0.02 + 0.98 * (1 - np.clip(seen, 0, 1)) ** 5
        total = total + (seen * fresnel)[..., None] * mirrored
        total = total + (seen * (1 - fresnel))[..., None] * evening.shade(
            _BODY, ambient=evening.ambient, glow=0.2 * evening.ambient)
        weights = weights + seen
    return total / weights[..., None]


def _slopes(view, across, distance, seed):
    """Tilt of the surface toward the viewer and sideways at points on the water."""
    x, z = across * distance + view.x, distance + view.z
    lean = side = 0
    gusts = 0.75 + 0.35 * sample(noise_tile(41, 1.7, 0.4), x * 1.3 + seed * 31, z * 1.3)
    gusts = np.clip(gusts, 0.25, 1.7)
    for number, (size, slope) in enumerate(_WAVES):
        waves = wave_slopes(70 + number, 0.008, 0.25)
        u, v = x * (TILE / size) + 211 * seed, z * (TILE / size) + 97 * seed
        amount = slope * (gusts if size < 100 else 1)
        lean = lean + amount * sample(waves[0], u, v)
        side = side + amount * sample(waves[1], u, v)
    return lean, side


def _mirror(canvas, layer, view, rows, feet, lift, shift):
    """Camera RGB found where the reflected ray meets sky, shore or boats."""
    edge, pontoon = feet
    columns = np.arange(canvas.shape[1], dtype=np.float32)[None] + shift * view.focal
    down = -view.up[rows, None]
    horizon = view.up[0] * view.focal

    def row_of(foot):
        return horizon - (2 * foot + down + lift) * view.focal

    shore = np.minimum(row_of(edge), horizon - (edge + 0.0003) * view.focal)
    colour = look_up(canvas, shore, columns)
    boats = look_up(layer, row_of(pontoon), columns)
    return colour * (1 - boats[..., 3:]) + boats[..., :3]
