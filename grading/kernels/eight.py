"""Cosine transforms of eight values, for loops over many, and the margins that such blocks need.

Both ways leave out factors that are alike for all values of a frequency (as in Arai, Agui and
Nakajima, Trans. IEICE E71:1095, 1988): whoever compares frequencies with something divides that by
`SCALES`, and whoever weighs what comes back divides by `GAIN`.
"""

import numpy as np

from grading.kernels.primitives import borrowing, f32, fma, inner

BLOCK = 8
REACH = BLOCK - 1
"""Pixels in each direction that a pixel depends on: those of all blocks that hold it."""

_COS = np.cos(np.pi * np.arange(8) / 16) / 2

SCALES = np.float32([_COS[k] for k in (4, 1, 2, 1, 4, 1, 2, 1)])
"""What makes the values of `forward` those of the orthonormal transform."""

GAIN = 8
"""How many times larger `back` makes what `forward` made of it."""

R3, R5, R7, R6 = (f32(_COS[k] / _COS[j]) for k, j in ((3, 1), (5, 1), (7, 1), (6, 2)))
B1, B3, B5, B7 = (f32(GAIN * _COS[1] * _COS[k]) for k in (1, 3, 5, 7))
B2, B6 = (f32(GAIN * _COS[2] * _COS[k]) for k in (2, 6))


@inner
def forward(a, b, c, d, e, g, h, i):
    """Cosine transform of type 2 of 8 values, by even and odd halves, over `SCALES`."""
    s0, s1, s2, s3 = a + i, b + h, c + g, d + e
    d0, d1, d2, d3 = a - i, b - h, c - g, d - e
    t0, t1, u0, u1 = s0 + s3, s1 + s2, s0 - s3, s1 - s2
    return (
        t0 + t1,
        fma(R7, d3, fma(R5, d2, fma(R3, d1, d0))),
        fma(R6, u1, u0),
        fma(-R5, d3, fma(-R7, d1, fma(R3, d0, -d2))),
        t0 - t1,
        fma(R3, d3, fma(R7, d2, fma(R5, d0, -d1))),
        fma(R6, u0, -u1),
        fma(R3, d2, fma(-R5, d1, fma(R7, d0, -d3))),
    )


@inner
def back(a, b, c, d, e, g, h, i):
    """The inverse of `forward`, `GAIN` times."""
    s, t = a + e, a - e
    u, v = fma(B6, h, B2 * c), fma(-B2, h, B6 * c)
    s0, s3, s1, s2 = s + u, s - u, t + v, t - v
    d0 = fma(B7, i, fma(B5, g, fma(B3, d, B1 * b)))
    d1 = fma(-B5, i, fma(-B1, g, fma(-B7, d, B3 * b)))
    d2 = fma(B3, i, fma(B7, g, fma(-B1, d, B5 * b)))
    d3 = fma(-B1, i, fma(B3, g, fma(-B5, d, B7 * b)))
    return s0 + d0, s1 + d1, s2 + d2, s3 + d3, s3 - d3, s2 - d2, s1 - d1, s0 - d0


@borrowing
def mirror(plane, region):
    """Fill the margins of `REACH` pixels about a region of a plane, as if it were mirrored there.

    Parameters
    ----------
    plane : ndarray, shape (rows, columns)
    region : tuple of int
        First row, row after the last, first column and column after the last.
    """
    top, bottom, low, high = region[0], region[1], region[2] - REACH, region[3] + REACH
    for y in range(top, bottom):
        _mirror_row(plane[y, low:high])
    for y in range(REACH):
        _copy(plane[min(top + y, bottom - 1), low:high], plane[top - 1 - y, low:high])
        _copy(plane[max(bottom - 1 - y, top), low:high], plane[bottom + y, low:high])


@inner
def _mirror_row(row):
    """Fill the margins of `REACH` pixels at both ends of a row."""
    columns = row.size - 2 * REACH
    for x in range(REACH):
        row[REACH - 1 - x] = row[REACH + min(x, columns - 1)]
        row[REACH + columns + x] = row[REACH + max(columns - 1 - x, 0)]


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]
