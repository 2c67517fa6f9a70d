"""From a Bayer mosaic to planar camera RGB, tile by tile.

Green is the mean of four one-sided estimates of the colour difference, weighted by how little
the difference changes on that side (gradient-based, threshold-free: Pekkucuksen and Altunbasak,
"Gradient based threshold free color filter array interpolation", ICIP 2010; the differences
themselves after Hamilton and Adams, US 5,629,734).  Red and blue follow green by residual
interpolation (Kiku, Monno, Tanaka and Okutomi, "Beyond color difference", IEEE TIP 25(3), 2016):
a local straight line from green to the colour, fitted on the colour's own sites, plus what that
line leaves over.  Fitting on the sites only, and the difference rather than the colour, is ours.

A tile is unwoven into four half-size planes, one for each site of the 2x2 block, red first, so
that every inner loop walks contiguous rows without a branch.  A pixel's value depends on the
mosaic within `HALO` pixels and on nothing else: tiles of any size give the same bits.
"""

import numpy as np
from numba import njit

from grading.kernels.hotpixels import repair_hot_pixels
from grading.kernels.mosaic import unweave

MARGIN = 9
HALO = 2 * MARGIN + 1
SLOPE_SHRINK = np.float32(4e-3)
TINY = np.float32(1e-12)
GRADIENT_FLOOR = np.float32(1e-6)
NEAR, MID, FAR = np.float32(0.45), np.float32(0.35), np.float32(0.2)
HALF, QUARTER, NINTH = np.float32(0.5), np.float32(0.25), np.float32(1 / 9)
ONE, TWO = np.float32(1), np.float32(2)


def demosaic_tile(mosaic, y0, y1, x0, x1, sensor, balance):
    """Develop rows ``y0:y1`` and columns ``x0:x1`` of a mosaic.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts.
    y0, y1, x0, x1 : int
        The tile, inside the frame.
    sensor : Sensor
        Phase, levels and noise.
    balance : array_like, shape (3,)
        White-balance gains of the light of the scene, green 1.  Edges are interpolated in
        balanced colour; the gains are taken out of the result again.

    Returns
    -------
    ndarray, shape (3, y1 - y0, x1 - x0), float32
        Camera RGB, black 0, white 1, neither balanced nor clipped.
    """
    out = np.empty((3, y1 - y0, x1 - x0), np.float32)
    gains = np.asarray(balance, np.float32)
    _develop(mosaic, y0, x0, sensor, gains, out)
    return out


@njit(nogil=True, cache=True, error_model="numpy")
def _develop(mosaic, y0, x0, sensor, gains, out):
    top = y0 - 2 * MARGIN - ((y0 - sensor.phase[0]) & 1)
    left = x0 - 2 * MARGIN - ((x0 - sensor.phase[1]) & 1)
    rows = (y0 + out.shape[1] - top + 1) // 2 + MARGIN
    columns = (x0 + out.shape[2] - left + 1) // 2 + MARGIN
    planes = np.empty((4, rows, columns), np.float32)
    unweave(mosaic, top, left, sensor, gains, planes)
    repair_hot_pixels(planes, sensor.noise, gains)
    difference = np.empty((2, 4, rows, columns), np.float32)
    _directional_differences(planes, difference)
    change = np.empty((2, 4, rows, columns), np.float32)
    _changes(difference, change)
    weight = np.empty((2, 2, rows, columns), np.float32)
    _weights(change, weight)
    green = np.empty((2, rows, columns), np.float32)
    _interpolate_green(planes, difference, weight, green)
    lines = np.empty((2, 2, rows, columns), np.float32)
    for colour in range(2):
        _fit_lines(planes[3 * colour], green[colour], lines[colour])
    _weave(planes, green, lines, gains, y0 - top, x0 - left, out)


@njit(nogil=True, cache=True, error_model="numpy")
def _difference_row(before, own, after, near_before, near_after, sign, out):
    """Green minus colour, after Hamilton and Adams, along one axis."""
    for x in range(out.size):
        other = HALF * (near_before[x] + near_after[x]) + QUARTER * (
            TWO * own[x] - before[x] - after[x]
        )
        out[x] = sign * (other - own[x])


@njit(nogil=True, cache=True, error_model="numpy")
def _directional_differences(planes, difference):
    """Colour difference at every site, along rows (0) and along columns (1)."""
    rows, columns = planes.shape[1:]
    last = columns - 1
    for site in range(4):
        r, c = site // 2, site % 2
        sign = ONE if r == c else -ONE
        across, along = planes[2 * r + 1 - c], planes[2 - 2 * r + c]
        own = planes[site]
        for y in range(1, rows - 1):
            _difference_row(
                own[y, 0 : last - 1], own[y, 1:last], own[y, 2:],
                across[y, c : last - 1 + c], across[y, 1 + c : last + c],
                sign, difference[0, site, y, 1:last],
            )
            _difference_row(
                own[y - 1, 1:last], own[y, 1:last], own[y + 1, 1:last],
                along[y - 1 + r, 1:last], along[y + r, 1:last],
                sign, difference[1, site, y, 1:last],
            )


@njit(nogil=True, cache=True, error_model="numpy")
def _change_row(before, after, out):
    for x in range(out.size):
        out[x] = abs(after[x] - before[x])


@njit(nogil=True, cache=True, error_model="numpy")
def _changes(difference, change):
    """How much each difference changes across a site, along its own axis."""
    rows, columns = difference.shape[2:]
    last = columns - 1
    for site in range(4):
        r, c = site // 2, site % 2
        across, along = 2 * r + 1 - c, 2 - 2 * r + c
        for y in range(1, rows - 1):
            _change_row(
                difference[0, across, y, c : last - 1 + c],
                difference[0, across, y, 1 + c : last + c],
                change[0, site, y, 1:last],
            )
            _change_row(
                difference[1, along, y - 1 + r, 1:last],
                difference[1, along, y + r, 1:last],
                change[1, site, y, 1:last],
            )


@njit(nogil=True, cache=True, error_model="numpy")
def _column_sum(a, b, c, d, e, out):
    for x in range(out.size):
        out[x] = a[x] + b[x] + c[x] + d[x] + e[x]


@njit(nogil=True, cache=True, error_model="numpy")
def _weight_row(own, other_before, other_after, out):
    """Inverse fourth power of the sum over a 5x5 window, from its column sums."""
    for x in range(out.size):
        total = own[x] + own[x + 1] + own[x + 2] + other_before[x] + other_after[x]
        total = total + GRADIENT_FLOOR
        square = total * total
        out[x] = ONE / (square * square)


@njit(nogil=True, cache=True, error_model="numpy")
def _weights(change, weight):
    """Trust in the red and blue sites' differences along both axes."""
    rows, columns = change.shape[2:]
    last = columns - 1
    sums = np.zeros((2, columns), np.float32)
    for axis in range(2):
        for k in range(2):
            for y in range(1, rows - 1):
                for c in range(2):
                    near, far = change[axis, 2 * k + c], change[axis, 2 - 2 * k + c]
                    _column_sum(
                        near[y - 1], near[y], near[y + 1], far[y - 1 + k], far[y + k], sums[c]
                    )
                _weight_row(
                    sums[k, 0 : last + 1], sums[1 - k, k : last - 1 + k],
                    sums[1 - k, 1 + k : last + k], weight[axis, k, y, 1:last],
                )


@njit(nogil=True, cache=True, error_model="numpy")
def _both_sides(here, near0, far0, near1, far1, weight0, weight1, out):
    """Weighted sum of the two one-sided estimates along an axis."""
    for x in range(out.size):
        side0 = NEAR * here[x] + MID * near0[x] + FAR * far0[x]
        side1 = NEAR * here[x] + MID * near1[x] + FAR * far1[x]
        out[x] = weight0[x] * side0 + weight1[x] * side1


@njit(nogil=True, cache=True, error_model="numpy")
def _green_row(own, across, along, weight0, weight1, weight2, weight3, out):
    for x in range(out.size):
        total = (weight0[x] + weight1[x]) + (weight2[x] + weight3[x])
        out[x] = own[x] + (across[x] + along[x]) / total


@njit(nogil=True, cache=True, error_model="numpy")
def _interpolate_green(planes, difference, weight, green):
    """Green at the red (0) and blue (1) sites."""
    rows, columns = planes.shape[1:]
    first, last = 3, columns - 3
    across, along = np.empty(last - first, np.float32), np.empty(last - first, np.float32)
    for k in range(2):
        own, beside, below = 3 * k, 1 + k, 2 - k
        for y in range(3, rows - 3):
            d = difference[0, own, y]
            near = difference[0, beside, y]
            west, east = weight[0, k, y, first - 1 : last - 1], weight[0, k, y, first + 1 :]
            _both_sides(
                d[first:last], near[first - 1 + k :], d[first - 1 :], near[first + k :],
                d[first + 1 :], west, east, across,
            )
            d = difference[1, own, :, first:last]
            near = difference[1, below, :, first:last]
            north, south = weight[1, k, y - 1, first:last], weight[1, k, y + 1, first:last]
            _both_sides(
                d[y], near[y - 1 + k], d[y - 1], near[y + k], d[y + 1], north, south, along
            )
            _green_row(
                planes[own, y, first:last], across, along, west, east, north, south,
                green[k, y, first:last],
            )


@njit(nogil=True, cache=True, error_model="numpy")
def _three_sum(a, b, c, out):
    for x in range(out.size):
        out[x] = a[x] + b[x] + c[x]


@njit(nogil=True, cache=True, error_model="numpy")
def _product_sum(a0, a1, a2, b0, b1, b2, out):
    for x in range(out.size):
        out[x] = a0[x] * b0[x] + a1[x] * b1[x] + a2[x] * b2[x]


@njit(nogil=True, cache=True, error_model="numpy")
def _slope_row(green, own, squares, products, out):
    """Slope of colour minus green against green over 3x3 sites, drawn towards zero."""
    for x in range(out.size):
        g = (green[x] + green[x + 1] + green[x + 2]) * NINTH
        d = (own[x] + own[x + 1] + own[x + 2]) * NINTH - g
        gg = (squares[x] + squares[x + 1] + squares[x + 2]) * NINTH
        gd = (products[x] + products[x + 1] + products[x + 2]) * NINTH - gg
        square = g * g
        out[x] = (gd - g * d) / (gg - square + SLOPE_SHRINK * square + TINY)


@njit(nogil=True, cache=True, error_model="numpy")
def _line_row(sums, own, green, slope, rest):
    for x in range(slope.size):
        a = (sums[x] + sums[x + 1] + sums[x + 2]) * NINTH
        slope[x] = a
        rest[x] = own[x] - green[x] - a * green[x]


@njit(nogil=True, cache=True, error_model="numpy")
def _fit_lines(own, green, line):
    """Slope of the difference against green at a colour's sites (0), and what it leaves (1)."""
    rows, columns = own.shape
    sums = np.empty((4, columns), np.float32)
    raw = np.empty((rows, columns), np.float32)
    for y in range(4, rows - 4):
        g0, g1, g2 = green[y - 1], green[y], green[y + 1]
        p0, p1, p2 = own[y - 1], own[y], own[y + 1]
        _three_sum(g0, g1, g2, sums[0])
        _three_sum(p0, p1, p2, sums[1])
        _product_sum(g0, g1, g2, g0, g1, g2, sums[2])
        _product_sum(g0, g1, g2, p0, p1, p2, sums[3])
        _slope_row(
            sums[0, 3:], sums[1, 3:], sums[2, 3:], sums[3, 3:], raw[y, 4 : columns - 4]
        )
    for y in range(5, rows - 5):
        _three_sum(raw[y - 1], raw[y], raw[y + 1], sums[0])
        _line_row(
            sums[0, 4:], own[y, 5:], green[y, 5:],
            line[0, y, 5 : columns - 5], line[1, y, 5 : columns - 5],
        )


@njit(nogil=True, cache=True, error_model="numpy")
def _mean_row(a, b, out):
    for x in range(out.size):
        out[x] = HALF * (a[x] + b[x])


@njit(nogil=True, cache=True, error_model="numpy")
def _colour_row(green, slope0, slope1, rest0, rest1, inverse, out):
    for x in range(green.size):
        slope = HALF * (slope0[x] + slope1[x])
        rest = HALF * (rest0[x] + rest1[x])
        out[x] = (green[x] + slope * green[x] + rest) * inverse


@njit(nogil=True, cache=True, error_model="numpy")
def _interleave(even, odd, left, out):
    """Weave two half rows, from column `left` of the woven row on."""
    first, second = (even, odd) if left % 2 == 0 else (odd, even[1:])
    first, second = first[left // 2 :], second[left // 2 :]
    for x in range(out.size // 2):
        out[2 * x] = first[x]
        out[2 * x + 1] = second[x]
    if out.size % 2:
        out[-1] = first[out.size // 2]


@njit(nogil=True, cache=True, error_model="numpy")
def _weave(planes, green, lines, gains, top, left, out):
    """All three colours at every pixel of the tile, which starts at `top`, `left`."""
    columns = planes.shape[2]
    slope, rest = np.empty(columns, np.float32), np.empty(columns, np.float32)
    halves = np.empty((2, columns), np.float32)
    first, last = 6, columns - 6
    for y in range(out.shape[1]):
        r, i = (top + y) & 1, (top + y) // 2
        greens = (green[0, i], planes[1, i]) if r == 0 else (planes[2, i], green[1, i])
        _interleave(greens[0], greens[1], left, out[1, y])
        for k in range(2):
            i0, i1 = (i, i) if r == k else (i - 1 + r, i + r)
            _mean_row(lines[k, 0, i0], lines[k, 0, i1], slope)
            _mean_row(lines[k, 1, i0], lines[k, 1, i1], rest)
            for c in range(2):
                j0, j1 = (first, first) if c == k else (first - 1 + c, first + c)
                _colour_row(
                    greens[c][first:last], slope[j0:], slope[j1:], rest[j0:], rest[j1:],
                    ONE / gains[2 * k], halves[c, first:last],
                )
            _interleave(halves[0], halves[1], left, out[2 * k, y])
