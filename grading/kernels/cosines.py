"""Planes without their noise: cosine transforms of 8x8 pixels about each, limited by the noise.

Every block of 8x8 pixels is transformed (Ahmed, Natarajan and Rao, IEEE Trans. Comput. C-23, 1974),
loses what is not above the noise of its frequency, and is transformed back; a pixel is the mean of
the 64 blocks that hold it, or of those in every other row (Coifman and Donoho,
"Translation-invariant de-noising", 1995; Yu and Sapiro, IPOL 2011, 10.5201/ipol.2011.ys-dct).
Blocks with fewer frequencies left weigh more (Guleryuz, IEEE TIP 16:3020, 2007). Along rows each
pixel is transformed once for all blocks, so that all loops run along rows.
"""

import numpy as np

from grading.kernels.primitives import aligned, f32, fma, inner

BLOCK = 8
REACH = BLOCK - 1
"""Pixels in each direction that a pixel depends on."""

RUN = 1200
"""Columns that are done at a time: those of a tile, for to begin a loop costs more than what falls
out of the first cache."""

C1, C2, C3, C4, C5, C6, C7 = (f32(0.5 * np.cos(np.pi * k / 16)) for k in range(1, 8))


@inner
def shrink(plane, limits, out, step, first):
    """Means of the shrunk blocks of a plane, whose margins `mirror` has filled.

    Parameters
    ----------
    plane : ndarray, shape (rows + 2 * REACH, columns + 2 * REACH), float32
    limits : ndarray, shape (8, 8), float32
        What a coefficient must exceed by vertical and horizontal frequency; 0 for the mean.
    out : ndarray, shape (rows, columns), float32
    step, first : int
        Blocks begin in every so many rows of a frame, of which this is the first of `out`.
    """
    columns = out.shape[1]
    for left in range(0, columns, RUN):
        right = min(left + RUN, columns)
        _shrink(
            plane[:, left : right + 2 * REACH], limits, out[:, left:right], step, first - REACH
        )


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


@inner
def _shrink(plane, limits, out, step, first):
    rows, n = plane.shape[0], plane.shape[1] - REACH
    waves, sums = aligned((BLOCK, BLOCK, n)), aligned((BLOCK, BLOCK, n))
    block, back = aligned((BLOCK, BLOCK, n)), aligned((BLOCK, n))
    weights, weight = aligned((BLOCK, n)), aligned((n,))
    sums[:] = f32(0)
    weights[:] = f32(0)
    for y in range(REACH):
        _forward_row(plane[y], waves[y])
    for y in range(rows - REACH):
        _forward_row(plane[y + REACH], waves[(y + REACH) % BLOCK])
        if (first + y) % step == 0:
            _shrink_blocks(waves, y, limits, weight, block, sums, weights)
        if y >= REACH:
            _back_row(sums[y % BLOCK], back)
            _mean_of_blocks(back, weights[y % BLOCK], out[y - REACH])
        sums[y % BLOCK] = f32(0)
        weights[y % BLOCK] = f32(0)


@inner
def _shrink_blocks(waves, y, limits, weight, block, sums, weights):
    """All blocks that begin in a row."""
    weight[:] = f32(0)
    for k in range(BLOCK):
        _forward_column(waves, y, k, limits[:, k], weight, block[k])
    for x in range(weight.size):
        weight[x] = f32(1) / (weight[x] if weight[x] > f32(1) else f32(1))
    for k in range(BLOCK):
        _back_column(block[k], weight, sums, y, k)
        _add(weight, weights[k])


@inner
def _forward(a, b, c, d, e, g, h, i):
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
def _back(a, b, c, d, e, g, h, i):
    """The inverse of `_forward`."""
    s, t = C4 * (a + e), C4 * (a - e)
    u, v = fma(C6, h, C2 * c), fma(-C2, h, C6 * c)
    s0, s3, s1, s2 = s + u, s - u, t + v, t - v
    d0 = fma(C7, i, fma(C5, g, fma(C3, d, C1 * b)))
    d1 = fma(-C5, i, fma(-C1, g, fma(-C7, d, C3 * b)))
    d2 = fma(C3, i, fma(C7, g, fma(-C1, d, C5 * b)))
    d3 = fma(-C1, i, fma(C3, g, fma(-C5, d, C7 * b)))
    return s0 + d0, s1 + d1, s2 + d2, s3 + d3, s3 - d3, s2 - d2, s1 - d1, s0 - d0


@inner
def _forward_row(row, out):
    a, b, c, d = row[0:], row[1:], row[2:], row[3:]
    e, g, h, i = row[4:], row[5:], row[6:], row[7:]
    o0, o1, o2, o3, o4, o5, o6, o7 = out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7]
    for x in range(o0.size):
        o0[x], o1[x], o2[x], o3[x], o4[x], o5[x], o6[x], o7[x] = _forward(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )


@inner
def _limited(value, limit):
    return value if abs(value) > limit else f32(0)


@inner
def _is_kept(value):
    return f32(1) if value != f32(0) else f32(0)


@inner
def _forward_column(waves, y, k, limits, count, out):
    a, b, c, d = (
        waves[y % 8, k], waves[(y + 1) % 8, k], waves[(y + 2) % 8, k], waves[(y + 3) % 8, k],
    )
    e, g, h, i = (
        waves[(y + 4) % 8, k], waves[(y + 5) % 8, k], waves[(y + 6) % 8, k], waves[(y + 7) % 8, k],
    )
    l0, l1, l2, l3, l4, l5, l6, l7 = (
        limits[0], limits[1], limits[2], limits[3], limits[4], limits[5], limits[6], limits[7],
    )
    o0, o1, o2, o3, o4, o5, o6, o7 = out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7]
    for x in range(count.size):
        p0, p1, p2, p3, p4, p5, p6, p7 = _forward(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )
        p0, p1, p2, p3 = _limited(p0, l0), _limited(p1, l1), _limited(p2, l2), _limited(p3, l3)
        p4, p5, p6, p7 = _limited(p4, l4), _limited(p5, l5), _limited(p6, l6), _limited(p7, l7)
        first = (_is_kept(p0) + _is_kept(p1)) + (_is_kept(p2) + _is_kept(p3))
        second = (_is_kept(p4) + _is_kept(p5)) + (_is_kept(p6) + _is_kept(p7))
        count[x] = count[x] + (first + second)
        o0[x], o1[x], o2[x], o3[x], o4[x], o5[x], o6[x], o7[x] = p0, p1, p2, p3, p4, p5, p6, p7


@inner
def _back_column(block, weight, sums, y, k):
    a, b, c, d = block[0], block[1], block[2], block[3]
    e, g, h, i = block[4], block[5], block[6], block[7]
    s0, s1, s2, s3 = (
        sums[y % 8, k], sums[(y + 1) % 8, k], sums[(y + 2) % 8, k], sums[(y + 3) % 8, k],
    )
    s4, s5, s6, s7 = (
        sums[(y + 4) % 8, k], sums[(y + 5) % 8, k], sums[(y + 6) % 8, k], sums[(y + 7) % 8, k],
    )
    for x in range(weight.size):
        w = weight[x]
        p0, p1, p2, p3, p4, p5, p6, p7 = _back(a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x])
        s0[x] = fma(w, p0, s0[x])
        s1[x] = fma(w, p1, s1[x])
        s2[x] = fma(w, p2, s2[x])
        s3[x] = fma(w, p3, s3[x])
        s4[x] = fma(w, p4, s4[x])
        s5[x] = fma(w, p5, s5[x])
        s6[x] = fma(w, p6, s6[x])
        s7[x] = fma(w, p7, s7[x])


@inner
def _add(values, sums):
    for x in range(values.size):
        sums[x] = sums[x] + values[x]


@inner
def _back_row(waves, out):
    a, b, c, d = waves[0], waves[1], waves[2], waves[3]
    e, g, h, i = waves[4], waves[5], waves[6], waves[7]
    o0, o1, o2, o3, o4, o5, o6, o7 = out[0], out[1], out[2], out[3], out[4], out[5], out[6], out[7]
    for x in range(o0.size):
        o0[x], o1[x], o2[x], o3[x], o4[x], o5[x], o6[x], o7[x] = _back(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )


@inner
def _mean_of_blocks(values, weights, out):
    """What the eight blocks that hold a column make of it, by their weights."""
    a, b, c, d = values[7], values[6], values[5], values[4]
    e, g, h, i = values[3], values[2], values[1], values[0]
    for x in range(out.size):
        low = (a[x] + b[x + 1]) + (c[x + 2] + d[x + 3])
        high = (e[x + 4] + g[x + 5]) + (h[x + 6] + i[x + 7])
        some = (weights[x] + weights[x + 1]) + (weights[x + 2] + weights[x + 3])
        more = (weights[x + 4] + weights[x + 5]) + (weights[x + 6] + weights[x + 7])
        out[x] = (low + high) / (some + more)
