"""Light smoothed along edges, for masks that read it pixel by pixel.

An edge-avoiding a-trous filter (Dammertz, Sewtz, Hanika and Lensch, "Edge-Avoiding A-Trous Wavelet
Transform for Fast Global Illumination Filtering", HPG 2010): passes of 3 x 3 pixels, their distance
doubled from one to the next. A neighbour counts the less the more its colour differs from the
pixel's, measured in what counts as an edge at its light and in the noise that is left there.
"""

import numpy as np

from grading.kernels.base import FLOOR, LUMINANCE
from grading.kernels.primitives import aligned, compiled, dot, f32, fma, inner


def reach(passes: int) -> int:
    """Pixels in each direction that a pixel depends on after so many passes.

    >>> reach(4)
    15
    """
    return (1 << passes) - 1


def smooth_light(
    rgb: np.ndarray, edge: float, photon: float, read: float, passes: int
) -> np.ndarray:
    """Linear light, smoothed where it is even.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear BT.2020. Beyond its borders the outermost pixels go on.
    edge : float
        Difference, as a share of the luminance, that counts as an edge.
    photon, read : float
        Variance of the noise of a pixel, the three channels together, for each unit of luminance
        and without light. A pass leaves about a quarter of it.
    passes : int

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        The array itself where there is no pass.
    """
    for k in range(passes):
        step, left = 1 << k, 0.25**k
        padded = np.pad(rgb, ((0, 0), (0, 0), (step, step)), mode="edge")
        rgb = _pass(padded, step, f32(edge**2), f32(photon * left), f32(read * left))
    return rgb


@compiled
def _pass(padded, step, edge, photon, read):
    _, rows, wide = padded.shape
    columns = wide - 2 * step
    out, sums, sharp = aligned((3, rows, columns)), aligned((4, columns)), aligned((columns,))
    for y in range(rows):
        r, g, b = (
            padded[0, y, step : step + columns],
            padded[1, y, step : step + columns],
            padded[2, y, step : step + columns],
        )
        _begin(r, g, b, edge, photon, read, sharp, sums)
        for j in range(-1, 2):
            row = min(max(y + j * step, 0), rows - 1)
            for i in range(-1, 2):
                if i != 0 or j != 0:
                    start = step + i * step
                    _add(
                        r, g, b,
                        padded[0, row, start : start + columns],
                        padded[1, row, start : start + columns],
                        padded[2, row, start : start + columns],
                        sharp, f32((2 - abs(i)) * (2 - abs(j))),
                        sums[0], sums[1], sums[2], sums[3],
                    )  # fmt: skip
        _end(r, g, b, sums, out[0, y], out[1, y], out[2, y])
    return out


@inner
def _begin(r, g, b, edge, photon, read, sharp, sums):
    """Per pixel one over the square of a difference that halves a weight's root; empty sums."""
    wr, wg, wb = LUMINANCE
    for x in range(r.size):
        light = dot(wr, wg, wb, r[x], g[x], b[x])
        light = light if light > FLOOR else FLOOR
        sharp[x] = f32(1) / fma(fma(edge, light, photon), light, read)
        sums[0, x] = f32(0)
        sums[1, x] = f32(0)
        sums[2, x] = f32(0)
        sums[3, x] = f32(4)


@inner
def _add(r, g, b, u, v, w, sharp, share, red, green, blue, total):
    """Add a neighbour's difference from the pixel, weighted."""
    for x in range(r.size):
        p, q, s = u[x] - r[x], v[x] - g[x], w[x] - b[x]
        far = fma(dot(p, q, s, p, q, s), sharp[x], f32(1))
        weight = share / (far * far)
        red[x] = fma(weight, p, red[x])
        green[x] = fma(weight, q, green[x])
        blue[x] = fma(weight, s, blue[x])
        total[x] += weight


@inner
def _end(r, g, b, sums, p, q, s):
    for x in range(r.size):
        part = f32(1) / sums[3, x]
        p[x] = fma(sums[0, x], part, r[x])
        q[x] = fma(sums[1, x], part, g[x])
        s[x] = fma(sums[2, x], part, b[x])
