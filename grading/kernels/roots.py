"""The scale on which the noise of photons is the same at every light, and back from it.

It is a root of light (Anscombe, Biometrika 35, 1948, with read noise as in Murtagh, Starck and
Bijaoui, A&A Suppl. 112, 1995).
"""

import numpy as np

from grading.kernels.primitives import clamp, f32, fma, inner, transform

S3, S2, S6 = (f32(1 / np.sqrt(k)) for k in (3, 2, 6))
"""One over the lengths of (1, 1, 1), (1, 0, -1) and (1, -2, 1)."""


@inner
def part(r, g, b, matrix, photon, read, root, y, u, v):
    """A row into the mean of its channels' roots, green twice, times the root of 3, and two colours
    of unit length: red less blue, and both less green."""
    for x in range(r.size):
        p, q, s = transform(matrix, r[x], g[x], b[x])
        p = _stabilised(p, photon, read, root)
        q = _stabilised(q, photon, read, root)
        s = _stabilised(s, photon, read, root)
        y[x] = f32(np.sqrt(3) / 4) * fma(f32(2), q, p + s)
        u[x] = S2 * (p - s)
        v[x] = S6 * fma(f32(-2), q, p + s)


@inner
def _stabilised(light, photon, read, root):
    """Noise of deviation 1 at any light, 0 for 0; where there is none it goes on as a line."""
    above = light if light > f32(0) else f32(0)
    return f32(2) * light / (np.sqrt(fma(photon, above, read)) + root)


@inner
def restored(value, photon, root, bias):
    """Back to light; what the root takes from the mean of noise is given back."""
    above = value if value > f32(0) else f32(0)
    share = clamp(fma(f32(0.25), value, f32(0.5)), f32(0), f32(1))
    return fma(photon, fma(f32(0.25) * above, above, bias * share), root * value)
