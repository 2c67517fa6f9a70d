"""A small blur taken back from the luminance of linear light, without halos and without noise.

The blur H is a Gaussian of known deviation, and two terms of the series for its inverse are added
(van Cittert, Z. Physik 69:298, 1931): with e = y - H y, y becomes y + amount (e + (e - H e)). What
comes of it is kept near the range of the 3x3 pixels about it, so that no edge gets a visible rim,
and faded out where that range is no more than noise. The three channels of a pixel are multiplied
alike, so its chromaticity stays. How far beyond the range, and where to fade, are ours.
"""

import numpy as np

from grading.kernels.coarse_colour import widen
from grading.kernels.primitives import aligned, borrowing, clamp, compiled, dot, f32, fma, inner

HALF = 2
"""Pixels of the blur on either side of its middle."""

REACH = 2 * HALF
"""Pixels in each direction that a pixel depends on."""

GIVE = f32(0.08)
"""How far beyond the lightest and the darkest of the 3x3 pixels a result may go, as a share of
their range; below the darkest also as a share of its own light, so that no dark side of a high edge
becomes black."""

ABOVE = f32(9)
"""Squared half of the range of 3x3 pixels, in variances of the noise, at which half of the
sharpening is left. Noise alone makes 1 to 2."""

MOST = f32(2)
"""Factor by which a pixel may become lighter or darker at most."""

LEAST = f32(1e-6)
"""Luminance below which a pixel is left alone."""

ROWS = 8
"""Rows that are kept at hand, a power of two above twice the reach of a blur and one."""


def blur_taps(deviation: float) -> np.ndarray:
    """Weights of a Gaussian at 0, 1 and 2 pixels from its middle, all five of which sum to one.

    Parameters
    ----------
    deviation : float
        In pixels, 0.2 to 1.

    Returns
    -------
    ndarray, shape (3,), float32

    Examples
    --------
    >>> [round(float(weight), 3) for weight in blur_taps(0.65)]
    [0.613, 0.188, 0.005]
    """
    weights = np.exp(-np.square(np.arange(HALF + 1) / deviation) / 2)
    return np.float32(weights / (weights[0] + 2 * weights[1:].sum()))


@compiled
def sharpen(
    rgb: np.ndarray,
    weights: np.ndarray,
    taps: np.ndarray,
    amount: float,
    noise: np.ndarray,
    white: float,
) -> np.ndarray:
    """Linear light with a blur taken back from its luminance.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        What lies beyond is taken to be like the outermost pixels.
    weights : ndarray, shape (3,), float32
        Of the channels in luminance.
    taps : ndarray, shape (3,), float32
        From `blur_taps`.
    amount : float32
        Share of the blur that is taken back, 0..1.
    noise : ndarray, shape (3,), float32
        Variance of luminance: without light, for each unit of light, and for its square.
    white : float32
        Light above which no channel is brought; one that is above it already is not raised.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    out, wide = aligned(rgb.shape), rgb.shape[2] + 2 * REACH
    rings = aligned((ROWS, 1, wide)), aligned((ROWS, 1, wide))
    lines = aligned((wide,)), aligned((wide,)), aligned((wide,))
    _sharpen(rgb, weights, taps, (amount, white), noise, rings, lines, out)
    return out


@borrowing
def _sharpen(rgb, weights, taps, limits, noise, rings, lines, out):
    rows, (light, rest), (line, high, low) = rgb.shape[1], rings, lines
    parts, form = (weights[0], weights[1], weights[2]), (noise[0], noise[1], noise[2])
    blur = taps[0], taps[1], taps[2]
    for last in range(-REACH, rows + REACH):
        row, y = min(max(last, 0), rows - 1), last - REACH
        _luminance(rgb[0, row], rgb[1, row], rgb[2, row], parts, light[last % ROWS, 0, REACH:])
        widen(light[last % ROWS], REACH)
        _down(light, last - HALF, blur, line)
        _less_blurred(light[(last - HALF) % ROWS, 0], line, blur, rest[(last - HALF) % ROWS, 0])
        if y >= 0:
            _down(rest, y, blur, line)
            _extremes(
                light[(y - 1) % ROWS, 0], light[y % ROWS, 0], light[(y + 1) % ROWS, 0], low, high
            )
            _finish(
                (rgb[0, y], rgb[1, y], rgb[2, y]), light[y % ROWS, 0, REACH:],
                rest[y % ROWS, 0, REACH:], line[HALF:], low[REACH - 1 :], high[REACH - 1 :],
                blur, form, limits, out[0, y], out[1, y], out[2, y],
            )


@inner
def _luminance(r, g, b, weights, out):
    for x in range(r.size):
        out[x] = dot(weights[0], weights[1], weights[2], r[x], g[x], b[x])


@inner
def _down(planes, y, blur, out):
    """A row blurred down the columns."""
    a, b, c = planes[(y - 2) % ROWS, 0], planes[(y - 1) % ROWS, 0], planes[y % ROWS, 0]
    d, e = planes[(y + 1) % ROWS, 0], planes[(y + 2) % ROWS, 0]
    for x in range(out.size):
        out[x] = dot(blur[0], blur[1], blur[2], c[x], b[x] + d[x], a[x] + e[x])


@inner
def _less_blurred(light, line, blur, out):
    """What light has above its blur; that of the outermost pixels is not needed."""
    here, target = light[HALF:], out[HALF:]
    for x in range(light.size - 2 * HALF):
        target[x] = here[x] - _across(line, x, blur)


@inner
def _across(line, x, blur):
    """The row that is blurred down, blurred along at x + HALF."""
    return dot(
        blur[0], blur[1], blur[2], line[x + 2], line[x + 1] + line[x + 3], line[x] + line[x + 4]
    )


@inner
def _extremes(a, b, c, low, high):
    """The least and the most of three rows."""
    for x in range(low.size):
        low[x] = min(a[x], min(b[x], c[x]))
        high[x] = max(a[x], max(b[x], c[x]))


@inner
def _finish(rgb, light, rest, line, low, high, blur, form, limits, r, g, b):
    """Channels times the factor that their luminance gets."""
    red, green, blue = rgb
    amount, white = limits
    for x in range(r.size):
        y = light[x]
        least = min(low[x], min(low[x + 1], low[x + 2]))
        most = max(high[x], max(high[x + 1], high[x + 2]))
        seen = y if y > LEAST else LEAST
        span = f32(0.5) * (most - least)
        power, variance = span * span, fma(fma(form[2], seen, form[1]), seen, form[0])
        share = power * power / fma(ABOVE * variance, ABOVE * variance, power * power + f32(1e-30))
        wanted = fma(amount * share, f32(2) * rest[x] - _across(line, x, blur), y)
        beyond, under = f32(2) * GIVE * span, GIVE * least
        under = clamp(under, f32(0), beyond)
        factor = clamp(wanted, least - under, most + beyond) / seen
        room = white / max(red[x], max(green[x], max(blue[x], LEAST)))
        factor = min(clamp(factor, f32(1) / MOST, MOST), max(room, f32(1)))
        factor = factor if y > LEAST else f32(1)
        r[x] = factor * red[x]
        g[x] = factor * green[x]
        b[x] = factor * blue[x]
