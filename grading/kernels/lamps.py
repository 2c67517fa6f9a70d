"""Small lamps and stars in a noisy luminance: where they are, so that no light of theirs is lost.

What limits frequencies spreads a point of light, and on a root's scale light that is spread is
less light. A point is where a mean of 3x3 pixels exceeds all eight of such means around it; along
an edge or a line one of them is as bright.
"""

from grading.kernels.primitives import aligned, clamp, f32, inner

AROUND, WITHIN = 4, 2
"""Pixels from a point to the means around it, and those about it that are its own."""

REACH = 1 + AROUND + WITHIN

FROM, FADE = f32(5), f32(2)
"""Deviations of a mean, by which the noise alone hardly ever exceeds all others, and over how many
more a point comes to count fully."""


@inner
def find_lamps(means, deviation, out):
    """How surely each pixel belongs to a point of light, 0..1.

    Parameters
    ----------
    means : ndarray, shape (rows, columns), float32
        Of 3x3 pixels of the luminance.
    deviation : float32
        Of their noise.
    out : ndarray, shape (rows, columns), float32
    """
    rows, columns = means.shape
    scale, width = f32(1) / (FADE * deviation), columns + 2 * AROUND
    wide, points, across = aligned((rows, width)), aligned((rows, width)), aligned((rows, columns))
    for y in range(rows):
        _widen(means[y], AROUND, wide[y])
    for y in range(rows):
        up, low = wide[max(y - AROUND, 0)], wide[min(y + AROUND, rows - 1)]
        _points(up, wide[y], low, scale, points[y, AROUND:])
        _widen(points[y, AROUND : AROUND + columns], AROUND, points[y])
        _largest(points[y, AROUND - WITHIN :], across[y])
    for y in range(rows):
        _copy(across[y], out[y])
        for k in range(1, WITHIN + 1):
            _larger(across[max(y - k, 0)], across[min(y + k, rows - 1)], out[y])


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]


@inner
def _widen(values, margin, out):
    """A row with its outermost values repeated; it may be there already."""
    first, last, count = values[0], values[values.size - 1], values.size
    for x in range(count):
        out[x + margin] = values[x]
    for x in range(margin):
        out[x] = first
        out[x + margin + count] = last


@inner
def _points(up, here, low, scale, out):
    a, b, c = up, up[AROUND:], up[2 * AROUND :]
    d, own, e = here, here[AROUND:], here[2 * AROUND :]
    g, h, i = low, low[AROUND:], low[2 * AROUND :]
    for x in range(here.size - 2 * AROUND):
        most = max(max(max(a[x], b[x]), max(c[x], d[x])), max(max(e[x], g[x]), max(h[x], i[x])))
        out[x] = clamp((own[x] - most) * scale - FROM / FADE, f32(0), f32(1))


@inner
def _largest(values, out):
    """The largest of five."""
    a, b, c, d, e = values, values[1:], values[2:], values[3:], values[4:]
    for x in range(out.size):
        out[x] = max(max(max(a[x], b[x]), max(c[x], d[x])), e[x])


@inner
def _larger(first, second, out):
    for x in range(out.size):
        out[x] = max(out[x], max(first[x], second[x]))
