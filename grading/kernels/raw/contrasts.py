"""How much each colour of a Bayer mosaic changes around a place, and where small lights are.

A colour's contrast is the variance of its sites in a window.  A place is a small saturated light
where one colour's contrast is far above another's, and high beside the light around.  The window
and the limits are ours.
"""

import numpy as np

from grading.kernels.primitives import aligned, fma, inner, smooth
from grading.kernels.raw.sites import by

WINDOW = 2
"""Sites of one kind in each direction."""
TRUSTED = np.float32(0.01**2)
"""Variance that says nothing, beside noise: a deviation of 1 % of the light around."""
UNLIKE = np.float32(3), np.float32(1 / 3)
"""Ratio of two colours' contrasts where a light begins, and the inverse of the way to a whole."""
STRONG = np.float32(0.2), np.float32(1 / 0.2)
"""The same for the highest contrast over the square of the light around."""
SITES, GREEN_SITES = np.float32(1 / 25), np.float32(1 / 50)
ZERO, TINY = np.float32(0), np.float32(1e-12)


@inner
def says_nothing(light, slope, floor):
    """Variance that is taken for none, by noise and texture too weak to tell."""
    return fma(TRUSTED * light, light, fma(slope, light, floor)) + TINY


@inner
def find_contrasts(planes, edge, slope, floor, contrasts):
    """Contrasts of red, green and blue, and how far each place is a light (3), but `edge` rows."""
    rows, columns = planes.shape[1:]
    sums = aligned((6, columns))
    red, green, other, blue = planes[0], planes[1], planes[2], planes[3]
    for y in range(edge, rows - edge):
        _add_rows(red[y - 2], red[y - 1], red[y], red[y + 1], red[y + 2], sums[0], sums[1])
        _add_rows_of_both(
            green[y - 2], green[y - 1], green[y], green[y + 1], green[y + 2],
            other[y - 2], other[y - 1], other[y], other[y + 1], other[y + 2], sums[2], sums[3],
        )  # fmt: skip
        _add_rows(blue[y - 2], blue[y - 1], blue[y], blue[y + 1], blue[y + 2], sums[4], sums[5])
        _variances(
            sums[0], sums[1], sums[2], sums[3], sums[4], sums[5], slope, floor,
            by(contrasts[0, y], 0, WINDOW), by(contrasts[1, y], 0, WINDOW),
            by(contrasts[2, y], 0, WINDOW), by(contrasts[3, y], 0, WINDOW),
        )


@inner
def _sum(a, b, c, d, e):
    return a + b + c + d + e


@inner
def _sum_of_squares(a, b, c, d, e):
    return fma(e, e, fma(d, d, fma(c, c, fma(b, b, a * a))))


@inner
def _add_rows(a, b, c, d, e, total, squares):
    for x in range(total.size):
        total[x] = _sum(a[x], b[x], c[x], d[x], e[x])
        squares[x] = _sum_of_squares(a[x], b[x], c[x], d[x], e[x])


@inner
def _add_rows_of_both(a, b, c, d, e, f, g, h, i, j, total, squares):
    for x in range(total.size):
        first = _sum(a[x], b[x], c[x], d[x], e[x])
        total[x] = first + _sum(f[x], g[x], h[x], i[x], j[x])
        first = _sum_of_squares(a[x], b[x], c[x], d[x], e[x])
        squares[x] = first + _sum_of_squares(f[x], g[x], h[x], i[x], j[x])


@inner
def _along(sums, x):
    return _sum(sums[x], sums[x + 1], sums[x + 2], sums[x + 3], sums[x + 4])


@inner
def _variances(r, rr, g, gg, b, bb, slope, floor, red, green, blue, share):
    """Contrasts, each with what says nothing added, and the share of a light, 0 if noise is NaN."""
    for x in range(share.size):
        mean0, mean1, mean2 = _along(r, x) * SITES, _along(g, x) * GREEN_SITES, _along(b, x) * SITES
        light = max(max(mean0, mean1), max(mean2, ZERO))
        nothing = says_nothing(light, slope, floor)
        own0 = max(fma(_along(rr, x), SITES, -mean0 * mean0), ZERO) + nothing
        own1 = max(fma(_along(gg, x), GREEN_SITES, -mean1 * mean1), ZERO) + nothing
        own2 = max(fma(_along(bb, x), SITES, -mean2 * mean2), ZERO) + nothing
        lowest, highest = min(min(own0, own1), own2), max(max(own0, own1), own2)
        unlike = smooth((highest / lowest - UNLIKE[0]) * UNLIKE[1])
        strong = (highest - nothing) / fma(light, light, TINY)
        red[x], green[x], blue[x] = own0, own1, own2
        share[x] = unlike * smooth((strong - STRONG[0]) * STRONG[1])
