"""Grain: noise that is white but for the width of its grains, from the place in the frame alone."""

import numpy as np

from grading.kernels.primitives import aligned, clamp, compiled, f32, fma, i32, inner, scramble, u32

SPREAD = f32(np.sqrt(6))
"""One over the deviation of the sum of two even numbers between -1/2 and 1/2."""

ROOM = f32(1 / 3)
"""Deviations of the grain, as a part of one, for each of lightness to black or white, from which
there is all of it: so far it hardly ever goes."""


@compiled
def add_grain(
    lab: np.ndarray, top: int, left: int, weights: np.ndarray, deviation: float
) -> np.ndarray:
    """A picture whose lightness has grain.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
        Oklab.
    top, left : int
        Where in the frame it begins.
    weights : ndarray, shape (2 n + 1,), float32
        Of the pixels of a row, and of a column, about a grain; the sum of their squares is 1.
    deviation : float32
        Of the grain, in lightness, above 0.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    rows, columns = lab.shape[1:]
    size = weights.size
    reach = size // 2
    out, across = aligned(lab.shape), aligned((size, columns))
    numbers, grain = aligned((columns + 2 * reach,)), aligned((columns,))
    for last in range(-reach, rows + reach):
        _even_numbers(u32(top + last), u32(left - reach), numbers)
        _spread(numbers, weights, across[(last + reach) % size])
        y = last - reach
        if y >= 0:
            grain[:] = f32(0)
            for k in range(size):
                _add(across[(y + k) % size], weights[k], grain)
            _lighten(lab[0, y], grain, deviation, out[0, y])
            for k in range(1, 3):
                _copy(lab[k, y], out[k, y])
    return out


@inner
def _even_numbers(y, left, out):
    """Numbers of deviation 1 that depend on their places alone."""
    seed = scramble(u32(y * u32(0x9E3779B1)))
    for x in range(out.size):
        h = scramble(u32(seed + u32(left + u32(x)) * u32(0xC2B2AE3D)))
        both = fma(f32(i32(h & u32(0xFFFF)) + i32(h >> u32(16))), f32(1 / 65536), f32(-1))
        out[x] = SPREAD * both


@inner
def _spread(numbers, weights, out):
    out[:] = f32(0)
    for k in range(weights.size):
        _add(numbers[k : k + out.size], weights[k], out)


@inner
def _add(values, weight, out):
    for x in range(out.size):
        out[x] = fma(weight, values[x], out[x])


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]


@inner
def _lighten(lightness, grain, deviation, out):
    """Lightness with grain, none of it at black and white and beyond."""
    whole = ROOM / deviation
    for x in range(out.size):
        room = min(lightness[x], f32(1) - lightness[x])
        out[x] = fma(grain[x], deviation * clamp(room * whole, f32(0), f32(1)), lightness[x])
