"""Less noise in the colours of a tile: coarse colour, and of finer colour what is above noise.

Luminance and two colour planes are parted into what `coarse_colour` knows and three finer details:
what means over two pixels add to it, means over one pixel to these, and the pixels themselves to
those (Starck and Murtagh, "Image restoration with noise suppression using the wavelet transform",
A&A 288, 1994). A detail counts as far as its energy, of both colours together, is above that of
noise there: shrinkage (Donoho and Johnstone, Biometrika 81, 1994), with limits of ours.
"""

import numpy as np

from grading.kernels.coarse_colour import coefficients, part, sixteenth, variance, weigh, widen
from grading.kernels.primitives import aligned, clamp, compiled, entries, f32, fma, inner, transform

REACH = 3
"""Pixels in each direction that a pixel depends on."""

FROM = f32(9), f32(7), f32(7)
"""Energy of a detail, the finest first, in variances of one plane, from which it counts. Noise
makes 2 on average and exceeds these in 2 or 3 % of places; demosaicing makes the finest uneven."""

FADE = f32(6)
"""Energy from there on, over which it comes to count fully."""


STRUCTURE = 48.0
"""Square of what luminance has above its coarse part, in variances of a site, half of which counts
as structure, which is alike in all channels, and half as grain."""

MOST = f32(2.25)
"""Squared grain of a channel, at most, when that of the luminance is 1."""


@compiled
def reduce_colour_noise(
    rgb: np.ndarray,
    coarse: np.ndarray,
    forward: np.ndarray,
    back: np.ndarray,
    noise: np.ndarray,
    spread: np.ndarray,
    photon: float,
    read: float,
    kept: np.ndarray,
) -> np.ndarray:
    """Light with less noise in its colours; its luminance is kept.

    The grain of the luminance is in each channel by the channel's root, as the noise of photons is:
    a channel that has little light gets little of it.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear light; what lies beyond is taken to be like the outermost pixels.
    coarse : ndarray, shape (3, rows, columns), float32
        What `coarse_colour` gives, at the same pixels.
    forward, back : ndarray, shape (3, 3), float32
        From light to luminance and the two colour planes, and back.
    noise : ndarray, shape (4,), float32
        Variance of a colour plane: a constant above 0, and factors on the planes.
    spread : ndarray, shape (3,), float32
        Variance of each detail, the finest first, as a share of `noise`.
    photon, read : float32
        Variance of a site for each unit of light, and without light, above 0; on any scale.
    kept : ndarray, shape (2,), float32
        Shares of the noise that are left: of fine and of coarse noise, 0..1.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    rows, columns = rgb.shape[1:]
    out, wide = aligned(rgb.shape), columns + 2 * REACH
    pixels, means = aligned((4, 3, wide)), aligned((5, 3, wide))
    wider, sums = aligned((3, columns)), aligned((wide,))
    to_planes, to_light, form = entries(forward), entries(back), coefficients(noise)
    certain = f32(1) / spread[0], f32(1) / spread[1], f32(1) / spread[2]
    shares = kept[0], kept[1] - kept[0]
    for last in range(-REACH, rows + REACH):
        row, y = min(max(last, 0), rows - 1), last - REACH
        part(rgb[0, row], rgb[1, row], rgb[2, row], to_planes, pixels[last % 4], REACH)
        widen(pixels[last % 4], REACH)
        if last >= 2 - REACH:
            for k in range(3):
                weigh(
                    pixels[(last - 2) % 4, k], pixels[(last - 1) % 4, k], pixels[last % 4, k], sums
                )
                sixteenth(sums, sums[1:], sums[2:], means[(last - 1) % 5, k, 1:-1])
        if y >= 0:
            for k in range(3):
                weigh(means[(y - 2) % 5, k], means[y % 5, k], means[(y + 2) % 5, k], sums)
                sixteenth(sums[1:], sums[3:], sums[5:], wider[k])
            _finish(
                (rgb[0, y], rgb[1, y], rgb[2, y]), _inner(pixels[y % 4]), _inner(means[y % 5]),
                (wider[0], wider[1], wider[2]), (coarse[0, y], coarse[1, y], coarse[2, y]),
                to_light, form, certain, (photon, read), shares, out[0, y], out[1, y], out[2, y],
            )
    return out


@inner
def _inner(row):
    return row[0, REACH:], row[1, REACH:], row[2, REACH:]


@inner
def _finish(rgb, own, near, middle, base, matrix, form, certain, grain, shares, r, g, b):
    """A row from its details: clean colour, the luminance's grain, and the noise that is left."""
    red, green, blue = rgb
    p0, q0, s0 = own
    p1, q1, s1 = near
    p2, q2, s2 = middle
    p3, q3, s3 = base
    fine, coarse = shares
    photon, read = grain
    least = f32(0.25) * read
    for x in range(r.size):
        p, q, s = p3[x], q3[x], s3[x]
        sure = f32(1) / variance(form, p, q, s)
        p, q, s = _with_detail(
            p, q, s, p2[x] - p, q2[x] - q, s2[x] - s, sure * certain[2], FROM[2]
        )
        d, e = q2[x] - q, s2[x] - s
        p, q, s = _with_detail(
            p, q, s, p1[x] - p2[x], q1[x] - q2[x], s1[x] - s2[x], sure * certain[1], FROM[1]
        )
        p, q, s = _with_detail(
            p, q, s, p0[x] - p1[x], q0[x] - q1[x], s0[x] - s1[x], sure * certain[0], FROM[0]
        )
        u, v, w = transform(matrix, p, q, s)
        above, level = p0[x] - p, fma(photon, p, read)
        inverse = f32(1) / (level if level > least else least)
        by_root = above / fma(above * above, inverse * f32(1 / STRUCTURE), f32(1))
        alike = above - by_root
        u = u + fma(_grain(fma(photon, u, read) * inverse), by_root, alike)
        v = v + fma(_grain(fma(photon, v, read) * inverse), by_root, alike)
        w = w + fma(_grain(fma(photon, w, read) * inverse), by_root, alike)
        d, e, h = transform(matrix, f32(0), d, e)
        r[x] = fma(coarse, d, fma(fine, red[x] - u, u))
        g[x] = fma(coarse, e, fma(fine, green[x] - v, v))
        b[x] = fma(coarse, h, fma(fine, blue[x] - w, w))


@inner
def _with_detail(p, q, s, d, e, g, certain, start):
    """Planes with as much of a detail as is above its noise."""
    energy = fma(e, e, g * g) * certain
    share = clamp((energy - start) * (f32(1) / FADE), f32(0), f32(1))
    return fma(share, d, p), fma(share, e, q), fma(share, g, s)


@inner
def _grain(light):
    """Grain of a channel by its light, both relative to the luminance's."""
    return np.sqrt(clamp(light, f32(0), MOST))
