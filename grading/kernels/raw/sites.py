"""The colours that sites of a Bayer mosaic miss, interpolated from those around them.

Green is the mean of four one-sided estimates of the colour difference, weighted by how little
the difference changes on that side (gradient-based, threshold-free: Pekkucuksen and Altunbasak,
"Gradient based threshold free color filter array interpolation", ICIP 2010; the differences
themselves after Hamilton and Adams, US 5,629,734).  Red and blue follow green by residual
interpolation (Kiku, Monno, Tanaka and Okutomi, "Beyond color difference", IEEE TIP 25(3), 2016):
a local straight line from green to the colour, fitted on the colour's own sites, plus what that
line leaves over.  Fitting on the sites only, and the difference rather than the colour, is ours.

A mosaic comes as four half-size planes, one for each site of the 2x2 block, red first, each as one
run, so that every inner loop walks whole planes without a branch: a neighbour is an offset, and
what wraps around a plane's edge stays in the margin.  `columns` is the length of a plane's row.
"""

import numpy as np

from grading.kernels.primitives import compiled, fma, inner

DIFFERENCES, CHANGES, TRUST, GREEN, SLOPES, LINES, MARGIN = 3, 4, 5, 6, 7, 8, 9
"""Rows at either end of the planes that a step leaves out; it looks one further than it fills."""

SLOPE_SHRINK, STEEPEST = np.float32(4e-3), np.float32(0.6)
TINY = np.float32(1e-12)
GRADIENT_FLOOR = np.float32(1e-6)
NEAR, MID, FAR = np.float32(0.4), np.float32(0.38), np.float32(0.22)
HALF, QUARTER, NINTH = np.float32(0.5), np.float32(0.25), np.float32(1 / 9)
ONE, TWO = np.float32(1), np.float32(2)


@inner
def by(plane, offset, edge):
    """A plane's inside, moved by an offset."""
    return plane[edge + offset : plane.size - edge + offset]


@inner
def neighbours(site, axis, columns):
    """The plane beside a site along an axis, and the offsets of the sites before and after."""
    r, c = site // 2, site % 2
    if axis == 0:
        return 2 * r + 1 - c, c - 1, c
    return 2 - 2 * r + c, (r - 1) * columns, r * columns


@compiled
def find_differences(sites, axis, columns, difference):
    """Green minus colour at every site along an axis, after Hamilton and Adams."""
    edge, step = DIFFERENCES * columns, columns if axis else 1
    for site in range(4):
        beside, before, after = neighbours(site, axis, columns)
        own, near = sites[site], sites[beside]
        _difference(
            by(own, -step, edge), by(own, 0, edge), by(own, step, edge),
            by(near, before, edge), by(near, after, edge),
            -ONE if site == 1 or site == 2 else ONE, by(difference[site], 0, edge),
        )


@inner
def _difference(before, own, after, near_before, near_after, sign, out):
    for x in range(out.size):
        bend = fma(TWO, own[x], -(before[x] + after[x]))
        other = fma(HALF, near_before[x] + near_after[x], QUARTER * bend)
        out[x] = sign * (other - own[x])


@compiled
def find_weights(difference, axis, columns, scratch, weight):
    """Trust in the differences at red and blue sites: how little they change in a 5x5 window."""
    edge = CHANGES * columns
    for site in range(4):
        beside, before, after = neighbours(site, axis, columns)
        near = difference[beside]
        _change(by(near, before, edge), by(near, after, edge), by(scratch[site], 0, edge))
    edge, sums = TRUST * columns, scratch[4:]
    for k in range(2):
        for c in range(2):
            own, other = scratch[2 * k + c], scratch[2 - 2 * k + c]
            five_sum(
                by(own, -columns, edge), by(own, 0, edge), by(own, columns, edge),
                by(other, (k - 1) * columns, edge), by(other, k * columns, edge),
                by(sums[c], 0, edge),
            )
        own, other = sums[k], sums[1 - k]
        _trust(
            by(own, -1, edge), by(own, 0, edge), by(own, 1, edge),
            by(other, k - 1, edge), by(other, k, edge), by(weight[k, axis], 0, edge),
        )


@inner
def _change(before, after, out):
    for x in range(out.size):
        out[x] = abs(after[x] - before[x])


@inner
def five_sum(a, b, c, d, e, out):
    for x in range(out.size):
        out[x] = a[x] + b[x] + c[x] + d[x] + e[x]


@inner
def _trust(a, b, c, d, e, out):
    """Inverse fourth power of a sum of changes."""
    for x in range(out.size):
        total = a[x] + b[x] + c[x] + d[x] + e[x] + GRADIENT_FLOOR
        square = total * total
        out[x] = ONE / (square * square)


@compiled
def find_green(sites, difference, weight, k, columns, scratch, green):
    """Green at the red (``k = 0``) or blue (1) sites."""
    edge, own = GREEN * columns, sites[3 * k]
    for axis in range(2):
        step = columns if axis else 1
        beside, before, after = neighbours(3 * k, axis, columns)
        here, near = difference[axis, 3 * k], difference[axis, beside]
        _both_sides(
            by(here, 0, edge), by(near, before, edge), by(here, -step, edge),
            by(near, after, edge), by(here, step, edge),
            by(weight[axis], -step, edge), by(weight[axis], step, edge),
            by(scratch[axis], 0, edge),
        )
    _add_difference(
        by(own, 0, edge), by(scratch[0], 0, edge), by(scratch[1], 0, edge),
        by(weight[0], -1, edge), by(weight[0], 1, edge),
        by(weight[1], -columns, edge), by(weight[1], columns, edge), by(green, 0, edge),
    )
    across, before, after = neighbours(3 * k, 0, columns)
    along, above, below = neighbours(3 * k, 1, columns)
    limit(
        by(sites[across], before, edge), by(sites[across], after, edge),
        by(sites[along], above, edge), by(sites[along], below, edge), by(green, 0, edge),
    )


@inner
def _both_sides(here, near0, far0, near1, far1, weight0, weight1, out):
    """Weighted sum of the two one-sided estimates along an axis."""
    for x in range(out.size):
        side0 = fma(FAR, far0[x], fma(MID, near0[x], NEAR * here[x]))
        side1 = fma(FAR, far1[x], fma(MID, near1[x], NEAR * here[x]))
        out[x] = fma(weight0[x], side0, weight1[x] * side1)


@inner
def _add_difference(own, across, along, weight0, weight1, weight2, weight3, out):
    for x in range(out.size):
        total = (weight0[x] + weight1[x]) + (weight2[x] + weight3[x])
        out[x] = own[x] + (across[x] + along[x]) / total


@inner
def limit(west, east, north, south, green):
    """Keep green, in place, from half the least to twice the greatest of the four around it.

    Beyond are only the ends of differences that swing by more than the light itself, beside lamps.
    """
    for x in range(green.size):
        low = min(min(west[x], east[x]), min(north[x], south[x]))
        high = max(max(west[x], east[x]), max(north[x], south[x]))
        low, high = min(HALF * low, TWO * low), max(HALF * high, TWO * high)
        green[x] = min(max(green[x], low), high)


@compiled
def find_lines(own, green, inverse, columns, scratch, line):
    """Slope (0) and rest (1) of the unbalanced colour against green at the colour's sites."""
    edge = SLOPES * columns
    g0, g1, g2 = by(green, -columns, edge), by(green, 0, edge), by(green, columns, edge)
    p0, p1, p2 = by(own, -columns, edge), by(own, 0, edge), by(own, columns, edge)
    three_sum(g0, g1, g2, by(scratch[0], 0, edge))
    three_sum(p0, p1, p2, by(scratch[1], 0, edge))
    product_sum(g0, g1, g2, g0, g1, g2, by(scratch[2], 0, edge))
    product_sum(g0, g1, g2, p0, p1, p2, by(scratch[3], 0, edge))
    raw = line[1]
    _slope(
        by(scratch[0], -1, edge), by(scratch[1], -1, edge), by(scratch[2], -1, edge),
        by(scratch[3], -1, edge), by(raw, 0, edge),
    )
    edge = LINES * columns
    three_sum(
        by(raw, -columns, edge), by(raw, 0, edge), by(raw, columns, edge),
        by(scratch[0], 0, edge),
    )
    _line_through(
        by(scratch[0], -1, edge), by(own, 0, edge), by(green, 0, edge), inverse,
        by(line[0], 0, edge), by(line[1], 0, edge),
    )


@inner
def three_sum(a, b, c, out):
    for x in range(out.size):
        out[x] = a[x] + b[x] + c[x]


@inner
def product_sum(a0, a1, a2, b0, b1, b2, out):
    for x in range(out.size):
        out[x] = fma(a2[x], b2[x], fma(a1[x], b1[x], a0[x] * b0[x]))


@inner
def _slope(green, own, squares, products, out):
    """Slope of colour minus green against green over 3x3 sites, drawn towards zero and limited.

    Steeper ones are fitted to what is too fine for the sites, and make false colour.
    """
    for x in range(out.size - 2):
        g = (green[x] + green[x + 1] + green[x + 2]) * NINTH
        d = (own[x] + own[x + 1] + own[x + 2]) * NINTH - g
        gg = (squares[x] + squares[x + 1] + squares[x + 2]) * NINTH
        gd = (products[x] + products[x + 1] + products[x + 2]) * NINTH - gg
        slope = fma(-g, d, gd) / (fma((SLOPE_SHRINK - ONE) * g, g, gg) + TINY)
        out[x] = min(max(slope, -STEEPEST), STEEPEST)


@inner
def _line_through(sums, own, green, inverse, slope, rest):
    for x in range(slope.size - 2):
        a = fma(sums[x] + sums[x + 1] + sums[x + 2], NINTH, ONE)
        slope[x] = a * inverse
        rest[x] = fma(-a, green[x], own[x]) * inverse


@compiled
def find_colour(sites, green, line, k, columns, colour):
    """Red (``k = 0``) or blue (1) at all kinds of site, by the lines of its own around them."""
    edge = MARGIN * columns
    for site in range(4):
        r, c = site // 2, site % 2
        here = green[r] if r == c else sites[site]
        above, below, before, after = own_around(site, k, columns)
        on_lines(
            by(here, 0, edge),
            by(line[0], above + before, edge), by(line[0], above + after, edge),
            by(line[0], below + before, edge), by(line[0], below + after, edge),
            by(line[1], above + before, edge), by(line[1], above + after, edge),
            by(line[1], below + before, edge), by(line[1], below + after, edge),
            by(colour[site], 0, edge),
        )


@inner
def own_around(site, k, columns):
    """Offsets of the rows and of the columns of the nearest red (``k = 0``) or blue (1) sites."""
    r, c = site // 2, site % 2
    above, below = (0, 0) if r == k else ((r - 1) * columns, r * columns)
    before, after = (0, 0) if c == k else (c - 1, c)
    return above, below, before, after


@inner
def on_lines(green, slope0, slope1, slope2, slope3, rest0, rest1, rest2, rest3, out):
    for x in range(out.size):
        slope = QUARTER * ((slope0[x] + slope1[x]) + (slope2[x] + slope3[x]))
        rest = QUARTER * ((rest0[x] + rest1[x]) + (rest2[x] + rest3[x]))
        out[x] = fma(green[x], slope, rest)
