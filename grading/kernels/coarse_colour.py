"""The coarse colour of a frame, nearly free of noise, from the frame at reduced size.

Light is parted into luminance and two colour planes whose noise is alike and independent. They are
smoothed in steps that look twice as far each time, an à-trous cascade (Holschneider et al., "A
real-time algorithm for signal analysis with the help of the wavelet transform", 1989), among
pixels that differ by no more than noise does, as in Dammertz et al., "Edge-avoiding à-trous wavelet
transform", HPG 2010. The weights here are the biweight of Beaton and Tukey, Technometrics 16, 1974,
exactly 0 for what differs by more; its width and that of the cascade are ours. In a gradient pixels
differ though nothing is there but light that fades; so two on opposite sides also count by their
second difference.
"""

import numpy as np

from grading.kernels.primitives import aligned, compiled, entries, f32, fma, inner, transform

FARTHEST = f32(16)
"""Squared difference at which one pixel no longer counts for another, in variances of a difference
between two pixels. Noise alone makes a mean of 2, in the two colours together."""

BENT = f32(1.5)
"""How many times as much a second difference counts as a difference; ours. Its noise has three
times the variance, but what is coarse differs less by it."""

TONES = f32(0.3)
"""Share of its luminance by which a pixel may differ besides."""

LEFT = tuple(f32(v) for v in (1.0, 0.3, 0.1, 0.04, 0.015, 0.006, 0.003, 0.0015))
"""Variance that is taken to be left before each step; where all pixels count, it is less: 1, 0.14,
0.030, 0.0071 and so on."""

MOST_STEPS = len(LEFT)


@compiled
def coarse_colour(
    reduced: np.ndarray,
    forward: np.ndarray,
    colour_noise: np.ndarray,
    luminance_noise: np.ndarray,
    steps: int,
) -> np.ndarray:
    """Luminance and colour planes of a frame at reduced size, with hardly any noise.

    Parameters
    ----------
    reduced : ndarray, shape (3, rows, columns), float32
        Linear light.
    forward : ndarray, shape (3, 3), float32
        From light to luminance and the two colour planes.
    colour_noise, luminance_noise : ndarray, shape (4,), float32
        Variance of a colour plane and of luminance: a constant above 0, and factors on the planes.
    steps : int
        Up to `MOST_STEPS`; the last looks 2**(steps - 1) pixels far.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    rows, columns = reduced.shape[1:]
    margin = 1 << (steps - 1)
    planes = aligned((rows, 3, columns + 2 * margin))
    out = aligned(planes.shape)
    matrix = entries(forward)
    for y in range(rows):
        part(reduced[0, y], reduced[1, y], reduced[2, y], matrix, planes[y], margin)
        widen(planes[y], margin)
    width, noise = aligned((2, columns)), aligned((rows, 2, columns))
    for y in range(rows):
        _noise_of_row(planes, y, margin, colour_noise, luminance_noise, out[0], noise[y])
    for step in range(steps):
        farthest = f32(2) * FARTHEST * LEFT[step]
        for y in range(rows):
            _smooth_row(planes, y, 1 << step, margin, noise[y], farthest, width, out[y])
            widen(out[y], margin)
        planes, out = out, planes
    result = aligned((3, rows, columns))
    for k in range(3):
        for y in range(rows):
            copy(planes[y, k, margin:], result[k, y])
    return result


@inner
def part(r, g, b, matrix, row, margin):
    """A row of light into the planes that a matrix, by its `entries`, makes of it."""
    p, q, s = row[0, margin:], row[1, margin:], row[2, margin:]
    for x in range(r.size):
        u, v, w = transform(matrix, r[x], g[x], b[x])
        p[x] = u
        q[x] = v
        s[x] = w


@inner
def widen(row, margin):
    """Repeat the outermost values of each plane's row over the margins at its ends."""
    last = row.shape[1] - margin - 1
    for k in range(row.shape[0]):
        for x in range(margin):
            row[k, x] = row[k, margin]
            row[k, last + 1 + x] = row[k, last]


@inner
def copy(source, target):
    """Values into a row of one's own."""
    for x in range(target.size):
        target[x] = source[x]


@inner
def coefficients(form):
    """The four numbers of a variance, so that a loop has them in registers."""
    return form[0], form[1], form[2], form[3]


@inner
def variance(form, p, q, s):
    """A variance by its form, no less than half of what it is without light."""
    found = fma(form[3], s, fma(form[2], q, fma(form[1], p, form[0])))
    least = f32(0.5) * form[0]
    return found if found > least else least


@inner
def weigh(a, b, c, out):
    """a + 2 b + c."""
    for x in range(out.size):
        out[x] = fma(f32(2), b[x], a[x] + c[x])


@inner
def sixteenth(a, b, c, out):
    """(a + 2 b + c) / 16."""
    for x in range(out.size):
        out[x] = f32(1 / 16) * fma(f32(2), b[x], a[x] + c[x])


@inner
def _noise_of_row(planes, y, margin, colour, luminance, sums, noise):
    """Variances of a colour plane and of luminance, from 3x3 means: from a pixel itself they would
    follow its own noise, and bias what is averaged."""
    rows = planes.shape[0]
    colour, luminance = coefficients(colour), coefficients(luminance)
    for k in range(3):
        weigh(planes[max(y - 1, 0), k], planes[y, k], planes[min(y + 1, rows - 1), k], sums[k])
    p, q, s = sums[0, margin - 1 :], sums[1, margin - 1 :], sums[2, margin - 1 :]
    first, second = noise[0], noise[1]
    for x in range(first.size):
        a = f32(1 / 16) * fma(f32(2), p[x + 1], p[x] + p[x + 2])
        b = f32(1 / 16) * fma(f32(2), q[x + 1], q[x] + q[x + 2])
        c = f32(1 / 16) * fma(f32(2), s[x + 1], s[x] + s[x + 2])
        first[x] = variance(colour, a, b, c)
        second[x] = variance(luminance, a, b, c)


@inner
def _smooth_row(planes, y, far, margin, noise, farthest, width, out):
    """A row's means over the nine pixels so far apart, by how alike these are."""
    up, down = max(y - far, 0), min(y + far, planes.shape[0] - 1)
    _widths(planes[y, 0, margin:], noise[0], noise[1], farthest, width[0], width[1])
    _mean_of_alike(
        _three(planes, y, margin), _three(planes, y, margin - far), _three(planes, y, margin + far),
        _three(planes, up, margin), _three(planes, up, margin - far),
        _three(planes, up, margin + far), _three(planes, down, margin),
        _three(planes, down, margin - far), _three(planes, down, margin + far),
        width[0], width[1], out[0, margin:], out[1, margin:], out[2, margin:],
    )


@inner
def _three(planes, y, first):
    return planes[y, 0, first:], planes[y, 1, first:], planes[y, 2, first:]


@inner
def _widths(light, colour, luminance, farthest, colour_width, luminance_width):
    """One over the squared differences at which a pixel no longer counts."""
    for x in range(colour_width.size):
        tone = TONES * light[x]
        colour_width[x] = f32(1) / (farthest * colour[x])
        luminance_width[x] = f32(1) / fma(tone, tone, farthest * luminance[x])


@inner
def _mean_of_alike(here, a, b, c, d, e, f, g, h, colour, luminance, out0, out1, out2):
    """Means of a pixel, which counts 4, of those beside it, which count 2, and of the others."""
    for x in range(colour.size):
        p, q, s = here[0][x], here[1][x], here[2][x]
        own, wide = (p, q, s), (colour[x], luminance[x])
        sums = f32(4) * p, f32(4) * q, f32(4) * s, f32(4)
        sums = _with_pair(sums, own, wide, a, b, x, f32(2))
        sums = _with_pair(sums, own, wide, c, f, x, f32(2))
        sums = _with_pair(sums, own, wide, d, h, x, f32(1))
        sums = _with_pair(sums, own, wide, e, g, x, f32(1))
        inverse = f32(1) / sums[3]
        out0[x] = sums[0] * inverse
        out1[x] = sums[1] * inverse
        out2[x] = sums[2] * inverse


@inner
def _with_pair(sums, own, wide, there, opposite, x, share):
    """With two pixels on opposite sides, each as it is alike; and as if both were, where they
    differ from what lies between by as much, one up and one down, as a gradient does."""
    a, b, c = there[0][x], there[1][x], there[2][x]
    d, e, g = opposite[0][x], opposite[1][x], opposite[2][x]
    h, i, j = a - own[0], b - own[1], c - own[2]
    m, n, o = d - own[0], e - own[1], g - own[2]
    one, other = _alike(h, i, j, wide), _alike(m, n, o, wide)
    bent = _alike(h + m, i + n, j + o, (BENT * wide[0], BENT * wide[1]))
    more = bent - (one if one < other else other)
    more = more if more > f32(0) else f32(0)
    one, other = share * (one + more), share * (other + more)
    return (
        fma(other, d, fma(one, a, sums[0])), fma(other, e, fma(one, b, sums[1])),
        fma(other, g, fma(one, c, sums[2])), sums[3] + (one + other),
    )  # fmt: skip


@inner
def _alike(light, first, second, wide):
    """How much a pixel counts that differs by so much."""
    near = fma(
        -fma(first, first, second * second), wide[0], fma(-(light * light), wide[1], f32(1))
    )
    near = near if near > f32(0) else f32(0)
    return near * near
