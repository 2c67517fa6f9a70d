"""Coloured fringes of edges: colours inside an edge kept between those of its two sides.

Where light of all channels is spread alike, each pixel of an edge between two even places is a
mixture of both, so red and blue follow green along a straight line. A lens that spreads or places
the channels differently leaves that line. Red and blue are brought back to it, or between several
where the sides have several colours, as Chung, Kim and Song bound colour differences ("Detecting
and eliminating chromatic aberration in digital images", ICIP 2009); in linear light here, so that
the bounds hold whatever the white balance. The thresholds are ours.

A place is even where no channel rises by more than noise does. A lamp too small to be even counts
by its lightest pixel, a branch too thin by its darkest. Where little in the neighbourhood is even,
as in foliage, what is a fringe cannot be told, and nothing is done.
"""

import numpy as np

from grading.kernels.coarse_colour import copy, weigh, widen
from grading.kernels.primitives import aligned, clamp, compiled, f32, fma, inner

STEEP = f32(0.1)
"""Rise within a pixel, as a share of the light there, from which a place is part of an edge; at
1.4 times as much it is so wholly."""

EVEN = f32(0.035)
"""Rise below which a place is even."""

LOWER = f32(0.5)
"""Share of the lightest green about a place below which it is the dark side of an edge."""

LIGHTEST, DARKEST = f32(0.99), f32(1.02)
"""How near a small lamp's lightest place, and a thin line's darkest, are to the extreme."""

THIN = f32(1.5)
"""How much lighter than a thin line it is within two pixels."""

ENOUGH = f32(0.1)
"""Share of even places in a neighbourhood from which colours are bounded, wholly at twice that."""

LEAST = f32(1e-6)
"""Light that replaces anything darker where it is a divisor."""

NOTHING = f32(-1e30)
"""Below all light: no such place."""

RUN = 128
"""Columns that are worked on at a time; what they need stays near to a core."""


def reach(far: int) -> int:
    """Pixels in each direction that a pixel depends on, for sides within `far` pixels.

    >>> reach(8)
    18
    """
    return 2 * far + 2


@compiled
def bound_colours(rgb: np.ndarray, far: int, noise: np.ndarray) -> np.ndarray:
    """Light with red and blue inside of edges bounded by the colours of both sides.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear light; of a camera or of the scene, balanced or not. What lies beyond is taken to
        be like the outermost pixels.
    far : int
        Pixels in each direction within which both sides of an edge are looked for, 1 or more.
    noise : ndarray, shape (3,), float32
        Variance of a channel: without light, for each unit of light, and for its square.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    out, margin, columns = aligned(rgb.shape), 2 * far + 2, rgb.shape[2]
    for left in range(0, columns, RUN):
        first, last = max(left - margin, 0), min(left + RUN + margin, columns)
        right = min(left + RUN, columns)
        _bound(rgb[:, :, first:last], far, noise, left - first, out[:, :, left:right])
    return out


@inner
def _bound(rgb, far, noise, first, out):
    rows, columns = rgb.shape[1:]
    light, slope = aligned((rows, 3, columns + 2)), aligned((3, rows, columns))
    share, even, top = slope[0], slope[1], slope[2]
    _smooth(rgb, light)
    edges = f32(0)
    for y in range(rows):
        edges = max(edges, _slopes(light, y, noise, share[y], even[y]))
    for c in range(3):
        for y in range(rows):
            copy(rgb[c, y, first:], out[c, y])
    if edges == f32(0):
        return
    planes, room = aligned((5, rows, columns)), aligned((rows + 2 * far + 4, columns + 2 * far + 4))
    lines, found = aligned((2, columns + 2 * far + 4)), aligned((11, rows, columns))
    _evenness(even, far, share)
    _sides(light, even, top, planes, far, room, lines, found)
    for k in range(10):
        side, sign = top if k < 4 else even, f32(1) if k % 2 == 0 else f32(-1)
        _most_within(planes[k // 2], side, sign, far, room, lines, found[k])
    for c in range(0, 3, 2):
        ratio, dark = c, 4 + c
        for y in range(rows):
            _finish(
                rgb[c, y, first:], rgb[1, y, first:], share[y, first:], found[10, y, first:],
                (found[ratio, y, first:], found[ratio + 1, y, first:]),
                (found[dark, y, first:], found[dark + 1, y, first:]),
                (found[8, y, first:], found[9, y, first:]), out[c, y],
            )


@inner
def _smooth(rgb, light):
    """Means of 3x3 pixels by weights 1 2 1, in rows with one more at either end."""
    rows, columns = rgb.shape[1:]
    sums = aligned((1, columns + 2))
    for c in range(3):
        for y in range(rows):
            here = sums[0, 1:-1]
            weigh(rgb[c, max(y - 1, 0)], rgb[c, y], rgb[c, min(y + 1, rows - 1)], here)
            widen(sums, 1)
            a, b, d, out = sums[0], sums[0, 1:], sums[0, 2:], light[y, c, 1:]
            for x in range(columns):
                mean = f32(1 / 16) * fma(f32(2), b[x], a[x] + d[x])
                out[x] = mean if mean > LEAST else LEAST
    for y in range(rows):
        widen(light[y], 1)


@inner
def _slopes(light, y, noise, share, even):
    """How far pixels are part of an edge, 0..1, and whether they are even, 0 or 1; the most of the
    former."""
    rows, most = light.shape[0], f32(0)
    read, photon, square = noise[0], noise[1], noise[2]
    for x in range(share.size):
        share[x] = f32(0)
        even[x] = f32(1)
    for c in range(3):
        up, down = light[max(y - 1, 0), c, 1:], light[min(y + 1, rows - 1), c, 1:]
        before, here, after = light[y, c], light[y, c, 1:], light[y, c, 2:]
        for x in range(share.size):
            v, h, level = down[x] - up[x], after[x] - before[x], here[x]
            rise, squared = f32(0.25) * fma(v, v, h * h), level * level
            variance = fma(square, squared, fma(photon, level, read))
            part = rise / fma(STEEP * STEEP, squared, variance) - f32(1)
            share[x] = max(share[x], clamp(part, f32(0), f32(1)))
            even[x] = even[x] if rise < fma(EVEN * EVEN, squared, variance) else f32(0)
    for x in range(share.size):
        most = max(most, share[x])
    return most


@inner
def _evenness(even, far, share):
    """Reduce the shares where few of the pixels about are even."""
    rows, columns = even.shape
    total = aligned((columns + 2 * far + 1,))
    inverse = f32(1) / (ENOUGH * f32((2 * far + 1) * (2 * far + 1)))
    total[:] = f32(0)
    inside = total[far + 1 :]
    for y in range(min(far, rows)):
        _add(even[y], f32(1), inside)
    for y in range(rows):
        if y + far < rows:
            _add(even[y + far], f32(1), inside)
        if y > far:
            _add(even[y - far - 1], f32(-1), inside)
        count, here = f32(0), share[y]
        for x in range(min(far, columns)):
            count += inside[x]
        for x in range(columns):
            count += total[x + 2 * far + 1] - total[x]
            here[x] *= clamp(fma(count, inverse, f32(-1)), f32(0), f32(1))


@inner
def _add(row, sign, total):
    for x in range(row.size):
        total[x] += sign * row[x]


@inner
def _sides(light, even, top, planes, far, room, lines, found):
    """Which pixels are a light side, into `top`, and which a dark one, into `even`; the planes that
    are gathered there: ratios of red and of blue to green, red, blue and green."""
    rows, columns = even.shape
    green, most, high, low = planes[4], found[10], found[8], found[9]
    for y in range(rows):
        copy(light[y, 1, 1:], green[y])
        for x in range(columns):
            top[y, x] = f32(1)
    _most_within(green, top, f32(1), far, room, lines, most)
    _most_within(green, top, f32(1), 2, room, lines, high)
    _most_within(green, top, f32(-1), 2, room, lines, low)
    for y in range(rows):
        red, blue = light[y, 0, 1:], light[y, 2, 1:]
        copy(red, planes[2, y])
        copy(blue, planes[3, y])
        _side_of_row(
            red, green[y], blue, most[y], high[y], low[y], even[y], top[y], planes[0, y],
            planes[1, y],
        )  # fmt: skip


@inner
def _side_of_row(red, green, blue, most, high, low, even, top, of_red, of_blue):
    for x in range(green.size):
        g = green[x]
        inverse, light = f32(1) / g, g >= LOWER * most[x]
        of_red[x] = inverse * red[x]
        of_blue[x] = inverse * blue[x]
        lightest, flat = g >= LIGHTEST * most[x], even[x] > f32(0)
        thin = (g <= -DARKEST * low[x]) & (high[x] > THIN * g)
        top[x] = f32(1) if light & (flat | lightest) else f32(0)
        even[x] = f32(1) if (not light) & (flat | thin) else f32(0)


@inner
def _most_within(plane, side, sign, far, room, lines, out):
    """The most of sign * plane on one side of edges within so many pixels of each, by doubling."""
    rows, columns = plane.shape
    size = 2 * far + 1
    for y in range(rows + 2 * far):
        if far <= y < rows + far:
            step = _most_of_row(plane[y - far], side[y - far], sign, far, lines, room[y])
        else:
            for x in range(columns):
                room[y, x] = NOTHING
    step = 1
    while 2 * step <= size:
        for y in range(rows + 2 * far - step):
            _more(room[y, :columns], room[y + step], room[y])
        step *= 2
    for y in range(rows):
        _more(room[y, :columns], room[y + size - step], out[y])


@inner
def _most_of_row(values, side, sign, far, lines, out):
    columns, size = values.size, 2 * far + 1
    wide, step, which = columns + 2 * far, 1, 0
    for x in range(wide):
        lines[0, x] = NOTHING
    inside = lines[0, far:]
    for x in range(columns):
        inside[x] = sign * values[x] if side[x] > f32(0) else NOTHING
    while 2 * step <= size:
        wide -= step
        _more(lines[which, :wide], lines[which, step:], lines[1 - which])
        which, step = 1 - which, 2 * step
    _more(lines[which, :columns], lines[which, size - step :], out)
    return step


@inner
def _more(a, b, out):
    for x in range(a.size):
        out[x] = max(a[x], b[x])


@inner
def _finish(own, green, share, most, ratio, dark, shade, out):
    """A row of red or blue, between the lines from dark sides to light ones.

    A lower bound comes negated from `_most_within`.
    """
    high_ratio, low_ratio = ratio
    high_dark, low_dark = dark
    high_green, low_green = shade
    for x in range(out.size):
        g, m, v = green[x], most[x], own[x]
        up, down, above, below = high_ratio[x], -low_ratio[x], high_dark[x], -low_dark[x]
        least, top_of_dark = -low_green[x], high_green[x]
        rise = fma(up, m, -above) / max(m - least, f32(0.1) * m)
        fall = fma(down, m, -below) / max(m - top_of_dark, f32(0.1) * m)
        away = g - least if g > least else f32(0)
        high = fma(rise, away, above) if g < m else up * g
        low = fma(fall, g - top_of_dark, below) if g < m else down * g
        low = low if low < high else high
        sure = share[x] if (up > NOTHING) & (above > NOTHING) else f32(0)
        bounded = clamp(v, low, high)
        out[x] = fma(sure, bounded - v, v) if sure > f32(0) else v
