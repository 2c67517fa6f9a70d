"""What reads the base of a place: the lift of its tone, and the contrast of its texture."""

import numpy as np

from grading.kernels.grid import PlacedGrid, buffers, deviations
from grading.kernels.primitives import (
    aligned,
    borrowing,
    compiled,
    exp2,
    f32,
    fma,
    inner,
    smooth,
)

TINY = np.float32(1e-30)


def lift(
    rgb: np.ndarray,
    grid: PlacedGrid,
    shadows: float,
    highlights: float,
    shadows_from: float,
    highlights_from: float,
) -> np.ndarray:
    """Linear light scaled by two to the power of a lift that depends on the base.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    grid : PlacedGrid
        On the same pixels.
    shadows, highlights : float32
        Stops given where the base is `shadows_from` stops or more below middle grey, and
        `highlights_from` stops or more above it.
    shadows_from, highlights_from : float

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    return _lift(
        rgb,
        grid,
        np.float32(shadows),
        np.float32(highlights),
        np.float32(-1 / shadows_from),
        np.float32(1 / highlights_from),
    )


@compiled
def _lift(rgb, grid, shadows, highlights, down, up):
    out = aligned(rgb.shape)
    _lift_rows(rgb, grid, shadows, highlights, down, up, buffers(grid), out)
    return out


@borrowing
def _lift_rows(rgb, grid, shadows, highlights, down, up, room, out):
    for y in range(rgb.shape[1]):
        _, stops, deviation = deviations(grid, rgb, y, room)
        for x in range(stops.size):
            base = stops[x] + deviation[x]
            stops[x] = exp2(fma(shadows, smooth(base * down), highlights * smooth(base * up)))
        for c in range(3):
            _multiplied(rgb[c, y], stops, out[c, y])


def change_detail(
    rgb: np.ndarray, grid: PlacedGrid, amount: float, photon: float, read: float, per_clip: float
) -> np.ndarray:
    """Linear light with its deviation d from the base made (1 + amount w) d, in stops.

    The weight w is d^4 / (d^4 + s^4) for the deviation s of the noise, in stops, at that light,
    times what falls smoothly from 1 where the light is half of what is clipped to 0 where it is.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    grid : PlacedGrid
        On the same pixels.
    amount : float32
    photon, read : float32
        Variance of luminance over ln(2)^2 for each unit of it, and without light, of what counts
        as noise; both 0: no noise.
    per_clip : float32
        One over the luminance that is clipped; 0: none is.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    numbers = (np.float32(n) for n in (amount, photon, read, per_clip))
    return _change_detail(rgb, grid, *numbers)


@compiled
def _change_detail(rgb, grid, amount, photon, read, per_clip):
    out = aligned(rgb.shape)
    _change_rows(rgb, grid, amount, photon, read, per_clip, buffers(grid), out)
    return out


@borrowing
def _change_rows(rgb, grid, amount, photon, read, per_clip, room, out):
    for y in range(rgb.shape[1]):
        light, gain, deviation = deviations(grid, rgb, y, room)
        for x in range(gain.size):
            seen = deviation[x] * light[x]
            noise = fma(photon, light[x], read) / fma(seen, seen, TINY)
            clipped = smooth(fma(light[x], f32(2) * per_clip, f32(-1)))
            weight = (f32(1) - clipped) / fma(noise, noise, f32(1))
            gain[x] = exp2(-amount * weight * deviation[x])
        for c in range(3):
            _multiplied(rgb[c, y], gain, out[c, y])


@inner
def _multiplied(light, gain, out):
    for x in range(gain.size):
        out[x] = light[x] * gain[x]
