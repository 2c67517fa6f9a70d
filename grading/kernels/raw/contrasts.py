"""How much each colour of a Bayer mosaic changes around a place, and where small lights are.

A colour's contrast is the variance of its sites in a window.  A place is a small saturated light
where one colour's contrast is far above another's, and high beside the light around.  The window
and the limits are ours.
"""

import numpy as np

from grading.kernels.primitives import aligned, fma, inner, smooth
from grading.kernels.raw.sites import five_sum

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
def find_contrasts(planes, edge, slope, floor, contrasts, share):
    """Contrasts of red, green and blue, and how far each place is a light, but `edge` rows."""
    rows, columns = planes.shape[1:]
    down, sums = aligned((6, columns)), aligned((6, columns - 2 * WINDOW))
    for y in range(edge, rows - edge):
        down[:] = ZERO
        for site in range(4):
            own, k = planes[site], 2 * ((site + 1) // 2)
            _add_rows(own[y - 2], own[y - 1], own[y], own[y + 1], own[y + 2], down[k], down[k + 1])
        for k in range(6):
            row = down[k]
            five_sum(row, row[1:], row[2:], row[3:], row[4:], sums[k])
        _variances(
            sums[0], sums[1], sums[2], sums[3], sums[4], sums[5], slope, floor,
            contrasts[0, y, WINDOW:], contrasts[1, y, WINDOW:], contrasts[2, y, WINDOW:],
            share[y, WINDOW:],
        )


@inner
def _add_rows(a, b, c, d, e, total, squares):
    for x in range(total.size):
        total[x] = total[x] + (a[x] + b[x] + c[x] + d[x] + e[x])
        square = fma(c[x], c[x], fma(b[x], b[x], a[x] * a[x]))
        squares[x] = squares[x] + fma(e[x], e[x], fma(d[x], d[x], square))


@inner
def _variances(r, rr, g, gg, b, bb, slope, floor, red, green, blue, share):
    """Contrasts, each with what says nothing added, and the share of a light, 0 if noise is NaN."""
    for x in range(r.size):
        mean0, mean1, mean2 = r[x] * SITES, g[x] * GREEN_SITES, b[x] * SITES
        light = max(max(mean0, mean1), max(mean2, ZERO))
        nothing = says_nothing(light, slope, floor)
        red[x] = max(fma(rr[x], SITES, -mean0 * mean0), ZERO) + nothing
        green[x] = max(fma(gg[x], GREEN_SITES, -mean1 * mean1), ZERO) + nothing
        blue[x] = max(fma(bb[x], SITES, -mean2 * mean2), ZERO) + nothing
        lowest = min(min(red[x], green[x]), blue[x])
        highest = max(max(red[x], green[x]), blue[x])
        unlike = smooth((highest / lowest - UNLIKE[0]) * UNLIKE[1])
        strong = (highest - nothing) / fma(light, light, TINY)
        share[x] = unlike * smooth((strong - STRONG[0]) * STRONG[1])
