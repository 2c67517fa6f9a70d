"""Small saturated lights: their missing colours are interpolated once more, without beads.

`sites` takes red and blue to change about as much as green.  On the rim of a red lamp red changes
thirty times as much, and what green tells of red's shape is lost.  Here the contrast of a colour
(see `contrasts`) tells how much it changes.

Green is interpolated along rows and columns (Hamilton and Adams, US 5,629,734) with the bend of red
or blue brought to green's contrast; the weight of each is by how little the difference of the
colours changes (Pekkucuksen and Altunbasak, ICIP 2010).  Red and blue follow green on a line (Kiku,
Monno, Tanaka and Okutomi, IEEE TIP 25(3), 2016) as steep as its sites say.  The contrasts and the
limits of all this are ours.  Where there is no such light, nothing is computed.
"""

import numpy as np

from grading.kernels.primitives import aligned, between, borrowing, compiled, fma, inner
from grading.kernels.raw.contrasts import find_contrasts, says_nothing
from grading.kernels.raw.sites import (
    MARGIN,
    by,
    limit,
    neighbours,
    on_lines,
    own_around,
    product_sum,
    three_sum,
)

EDGE = 3
"""Sites of one kind around a block that its colours depend on."""
HEIGHT, STEP, GAP = 16, 16, 96
"""Rows of a block, columns that it grows by, and columns without a light at which it ends, in sites
of one kind; to begin another costs about as much as so many."""

BEYOND, BENT = np.float32(0.25), np.float32(0.05)
"""How far green goes beyond the two beside it: shares of their difference, and of the bend."""
COST_FLOOR = np.float32(1e-6)
ZERO, HALF, QUARTER, NINTH = np.float32(0), np.float32(0.5), np.float32(0.25), np.float32(1 / 9)
TWO = np.float32(2)


@compiled
def mend_lights(planes, noise, gains, green, colours):
    """Interpolate the missing colours of small saturated lights once more, in place.

    Parameters
    ----------
    planes : ndarray, shape (4, rows, columns), float32
        Balanced signal of red, green beside red, green beside blue and blue sites.
    noise : tuple of float
        Gain and offset of the variance of the unbalanced signal.
    gains : ndarray, shape (3,), float32
        The balance that is in `planes`.
    green : ndarray, shape (2, rows, columns), float32
        Green at red and blue sites.
    colours : ndarray, shape (2, 4, rows, columns), float32
        Red and blue, unbalanced, at each kind of site.  The outermost `MARGIN` rows and columns
        of both are left as they are.
    """
    rows, columns = planes.shape[1:]
    contrasts = aligned((4, rows, columns))
    share, gain = contrasts[3], max(max(gains[0], gains[1]), gains[2])
    slope, floor = gain * np.float32(noise[0]), gain * gain * np.float32(noise[1])
    find_contrasts(planes, MARGIN - EDGE, slope, floor, contrasts)
    end, most = columns - MARGIN, aligned((columns,))
    for y in range(MARGIN, rows - MARGIN, HEIGHT):
        y1, x = min(y + HEIGHT, rows - MARGIN), MARGIN
        _find_most(share, y, y1, most)
        while x < end:
            x0 = x
            if _any(most[x : min(x + STEP, end)]):
                while x < end and _any(most[x : min(x + GAP, end)]):
                    x = min(x + STEP, end)
                block = *_lit_rows(share, y, y1, x0, x), x0, x
                _mend_block(planes, contrasts, slope, floor, gains, block, green, colours)
            else:
                x += STEP


@borrowing
def _lit_rows(share, top, bottom, x0, x1):
    """Some rows without the first and the last that have no light."""
    while not _any(share[top, x0:x1]):
        top += 1
    while not _any(share[bottom - 1, x0:x1]):
        bottom -= 1
    return top, bottom


@borrowing
def _find_most(share, y0, y1, most):
    """The most of each column in some rows."""
    for x in range(most.size):
        most[x] = ZERO
    for y in range(y0, y1):
        row = share[y]
        for x in range(most.size):
            most[x] = row[x] if row[x] > most[x] else most[x]


@inner
def _any(share):
    """Whether a share is above 0."""
    found = False
    for x in range(share.size):
        found |= share[x] > ZERO
    return found


@inner
def _mend_block(planes, contrasts, slope, floor, gains, block, green, colours):
    (y0, y1, x0, x1), share = block, contrasts[3]
    rows, columns = y1 - y0 + 2 * EDGE, x1 - x0 + 2 * EDGE
    top, left = y0 - EDGE, x0 - EDGE
    sites, scratch = aligned((4, rows * columns)), aligned((4, rows * columns))
    new_green, line = aligned((2, rows * columns)), aligned((2, rows * columns))
    for site in range(4):
        _cut(planes[site], top, left, columns, sites[site])
    _cut(contrasts[1], top, left, columns, scratch[2])
    for k in range(2):
        _cut(contrasts[2 * k], top, left, columns, scratch[1])
        _scale(scratch[2], scratch[1], scratch[0])
        _find_green(sites, scratch[0], k, columns, new_green[k])
        _blend(new_green[k], np.float32(1), share, block, columns, green[k])
    for k in range(2):
        own, inverse = sites[3 * k], np.float32(1) / gains[2 * k]
        _find_lines(own, new_green[k], slope, floor, columns, scratch, line)
        for site in range(4):
            if site != 3 * k:
                here = new_green[site // 3] if site % 3 == 0 else sites[site]
                _find_colour(own, here, line, site, k, columns, scratch[0])
                _blend(scratch[0], inverse, share, block, columns, colours[k, site])


@borrowing
def _cut(plane, y, x, columns, out):
    for row in range(out.size // columns):
        source, target = plane[y + row, x : x + columns], out[row * columns : (row + 1) * columns]
        for i in range(columns):
            target[i] = source[i]


@inner
def _scale(contrast, own_contrast, out):
    """What brings a colour to green's contrast."""
    for x in range(out.size):
        out[x] = np.sqrt(contrast[x] / own_contrast[x])


@borrowing
def _blend(new, scale, share, block, columns, old):
    y0, y1, x0, x1 = block
    for y in range(y0, y1):
        start = (y - y0 + EDGE) * columns + EDGE
        _blend_row(new[start : start + x1 - x0], scale, share[y, x0:x1], old[y, x0:x1])


@inner
def _blend_row(new, scale, share, old):
    for x in range(old.size):
        blended = between(old[x], new[x] * scale, share[x])
        old[x] = blended if share[x] > ZERO else old[x]


@inner
def _find_green(sites, scale, k, columns, green):
    """Green at the red (``k = 0``) or blue (1) sites."""
    own, edge = sites[3 * k], columns
    across, before, after = neighbours(3 * k, 0, columns)
    along, above, below = neighbours(3 * k, 1, columns)
    west, east = by(sites[across], before, edge), by(sites[across], after, edge)
    north, south = by(sites[along], above, edge), by(sites[along], below, edge)
    _along_both(
        by(own, 0, edge), by(own, -1, edge), by(own, 1, edge),
        by(own, -columns, edge), by(own, columns, edge), west, east, north, south,
        by(scale, 0, edge), by(green, 0, edge),
    )
    limit(west, east, north, south, by(green, 0, edge))


@inner
def _along_both(
    own, own_west, own_east, own_north, own_south, west, east, north, south, scale, out
):
    for x in range(out.size):
        across, cost0 = _estimate(own[x], own_west[x], own_east[x], west[x], east[x], scale[x])
        along, cost1 = _estimate(own[x], own_north[x], own_south[x], north[x], south[x], scale[x])
        out[x] = fma(cost1, across, cost0 * along) / (cost0 + cost1)


@inner
def _estimate(own, before, after, near_before, near_after, scale):
    """Green along an axis, and the fourth power of how much the difference of colours changes."""
    bend = scale * fma(TWO, own, -(before + after))
    rise = near_after - near_before
    beyond = fma(BEYOND, abs(rise), BENT * abs(bend))
    low, high = min(near_before, near_after) - beyond, max(near_before, near_after) + beyond
    green = fma(HALF, near_before + near_after, QUARTER * bend)
    cost = abs(rise - HALF * scale * (after - before)) + HALF * abs(bend) + COST_FLOOR
    square = cost * cost
    return min(max(green, low), high), square * square


@inner
def _find_lines(own, green, slope, floor, columns, scratch, line):
    """Slope (0) and rest (1) of a colour against green over 3x3 of its sites."""
    edge = 2 * columns
    g0, g1, g2 = by(green, -columns, edge), by(green, 0, edge), by(green, columns, edge)
    p0, p1, p2 = by(own, -columns, edge), by(own, 0, edge), by(own, columns, edge)
    three_sum(g0, g1, g2, by(scratch[0], 0, edge))
    three_sum(p0, p1, p2, by(scratch[1], 0, edge))
    product_sum(g0, g1, g2, g0, g1, g2, by(scratch[2], 0, edge))
    product_sum(g0, g1, g2, p0, p1, p2, by(scratch[3], 0, edge))
    _steep_line(
        by(scratch[0], -1, edge), by(scratch[1], -1, edge), by(scratch[2], -1, edge),
        by(scratch[3], -1, edge), p1, g1, slope, floor, by(line[0], 0, edge), by(line[1], 0, edge),
    )


@inner
def _steep_line(sums, own_sums, squares, products, own, green, noise_slope, noise, slope, rest):
    for x in range(slope.size - 2):
        mean = (sums[x] + sums[x + 1] + sums[x + 2]) * NINTH
        own_mean = (own_sums[x] + own_sums[x + 1] + own_sums[x + 2]) * NINTH
        square = (squares[x] + squares[x + 1] + squares[x + 2]) * NINTH
        product = (products[x] + products[x + 1] + products[x + 2]) * NINTH
        light = max(max(mean, own_mean), ZERO)
        variance = max(fma(-mean, mean, square), ZERO)
        rise = max(fma(-mean, own_mean, product), ZERO)
        slope[x] = rise / (variance + says_nothing(light, noise_slope, noise))
        rest[x] = fma(-slope[x], green[x], own[x])


@inner
def _find_colour(own, green, line, site, k, columns, colour):
    """Red (``k = 0``) or blue (1) at a kind of site, by the lines of its own around it."""
    edge = EDGE * columns
    above, below, before, after = own_around(site, k, columns)
    here, out = by(green, 0, edge), by(colour, 0, edge)
    if above == below or before == after:
        first, last = above + before, below + after
        _between_two(
            here, by(line[0], first, edge), by(line[0], last, edge),
            by(line[1], first, edge), by(line[1], last, edge),
            by(own, first, edge), by(own, last, edge), out,
        )
    else:
        on_lines(
            here,
            by(line[0], above + before, edge), by(line[0], above + after, edge),
            by(line[0], below + before, edge), by(line[0], below + after, edge),
            by(line[1], above + before, edge), by(line[1], above + after, edge),
            by(line[1], below + before, edge), by(line[1], below + after, edge), out,
        )
        limit(
            by(own, above + before, edge), by(own, above + after, edge),
            by(own, below + before, edge), by(own, below + after, edge), out,
        )


@inner
def _between_two(green, slope0, slope1, rest0, rest1, own0, own1, out):
    """On two lines, within the limits that `limit` sets."""
    for x in range(out.size):
        low, high = min(own0[x], own1[x]), max(own0[x], own1[x])
        low, high = min(HALF * low, TWO * low), max(HALF * high, TWO * high)
        colour = HALF * fma(green[x], slope0[x] + slope1[x], rest0[x] + rest1[x])
        out[x] = min(max(colour, low), high)
