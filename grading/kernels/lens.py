"""What undoes the falloff of a lens's light on the pixels of a tile."""

from __future__ import annotations

import numpy as np

from grading.kernels.primitives import aligned, compiled, f32, fma, series
from grading.region import Region


def multiply_by_gain(
    rgb: np.ndarray,
    maps: np.ndarray,
    region: Region,
    circle: tuple[float, float, float],
    gain: tuple[float, ...],
    fall: tuple[float, ...],
    share: float,
    scale: float = 1.0,
) -> np.ndarray:
    """Light times what undoes a falloff.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    maps : ndarray, shape (n, rows, columns), float32
        Further factors on all channels; n may be 0.
    region : Region
        Where the pixels are in the frame.
    circle : tuple of three float
        The centre across and down, and the length of the radius 1, in pixels.
    gain, fall : tuple of five float
        See `grading.lens.optics.Falloff`.
    share : float
        Of the correction: 0 leaves alone.
    scale : float
        A further factor on all light.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    x, y, unit = circle
    numbers = [tuple(f32(each) for each in (1.0, *powers)) for powers in (gain, fall)]
    middle = f32((0.5 - x) / unit), f32((0.5 - y) / unit)
    corner = region.top, region.left
    numbers += [f32(share), f32(scale)]
    return _multiply_by_gain(rgb, maps, corner, middle, f32(1 / unit), *numbers)


@compiled
def _multiply_by_gain(rgb, maps, corner, middle, step, gain, fall, share, scale):
    out = aligned(rgb.shape)
    top, left = corner
    line = np.empty(rgb.shape[2], np.float32)
    for y in range(rgb.shape[1]):
        v = fma(f32(y + top), step, middle[1])
        square = v * v
        for x in range(line.size):
            u = fma(f32(x + left), step, middle[0])
            r = fma(u, u, square)
            line[x] = series(r, gain) / series(r, fall)
        for n in range(maps.shape[0]):
            factors = maps[n, y]
            for x in range(line.size):
                line[x] *= factors[x]
        for x in range(line.size):
            line[x] = scale * fma(share, line[x] - f32(1), f32(1))
        for c in range(3):
            source, target = rgb[c, y], out[c, y]
            for x in range(line.size):
                target[x] = source[x] * line[x]
    return out
