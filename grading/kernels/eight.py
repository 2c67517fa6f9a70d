"""Cosine transforms of eight values, for loops over many, and the margins that such blocks need."""

import numpy as np

from grading.kernels.primitives import f32, fma, inner

BLOCK = 8
REACH = BLOCK - 1
"""Pixels in each direction that a pixel depends on: those of all blocks that hold it."""

C1, C2, C3, C4, C5, C6, C7 = (f32(0.5 * np.cos(np.pi * k / 16)) for k in range(1, 8))


@inner
def forward(a, b, c, d, e, g, h, i):
    """Cosine transform of type 2 of 8 values, orthonormal, by even and odd halves."""
    s0, s1, s2, s3 = a + i, b + h, c + g, d + e
    d0, d1, d2, d3 = a - i, b - h, c - g, d - e
    t0, t1, u0, u1 = s0 + s3, s1 + s2, s0 - s3, s1 - s2
    return (
        C4 * (t0 + t1),
        fma(C7, d3, fma(C5, d2, fma(C3, d1, C1 * d0))),
        fma(C6, u1, C2 * u0),
        fma(-C5, d3, fma(-C1, d2, fma(-C7, d1, C3 * d0))),
        C4 * (t0 - t1),
        fma(C3, d3, fma(C7, d2, fma(-C1, d1, C5 * d0))),
        fma(-C2, u1, C6 * u0),
        fma(-C1, d3, fma(C3, d2, fma(-C5, d1, C7 * d0))),
    )


@inner
def back(a, b, c, d, e, g, h, i):
    """The inverse of `forward`."""
    s, t = C4 * (a + e), C4 * (a - e)
    u, v = fma(C6, h, C2 * c), fma(-C2, h, C6 * c)
    s0, s3, s1, s2 = s + u, s - u, t + v, t - v
    d0 = fma(C7, i, fma(C5, g, fma(C3, d, C1 * b)))
    d1 = fma(-C5, i, fma(-C1, g, fma(-C7, d, C3 * b)))
    d2 = fma(C3, i, fma(C7, g, fma(-C1, d, C5 * b)))
    d3 = fma(-C1, i, fma(C3, g, fma(-C5, d, C7 * b)))
    return s0 + d0, s1 + d1, s2 + d2, s3 + d3, s3 - d3, s2 - d2, s1 - d1, s0 - d0


@inner
def mirror(plane):
    """Fill the margins of `REACH` pixels about a plane, as if it were mirrored at its borders."""
    rows = plane.shape[0] - 2 * REACH
    for y in range(rows):
        mirror_row(plane[y + REACH])
    for y in range(REACH):
        _copy(plane[REACH + min(y, rows - 1)], plane[REACH - 1 - y])
        _copy(plane[REACH + max(rows - 1 - y, 0)], plane[REACH + rows + y])


@inner
def mirror_row(row):
    """Fill the margins of `REACH` pixels at both ends of a row."""
    columns = row.size - 2 * REACH
    for x in range(REACH):
        row[REACH - 1 - x] = row[REACH + min(x, columns - 1)]
        row[REACH + columns + x] = row[REACH + max(columns - 1 - x, 0)]


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]
