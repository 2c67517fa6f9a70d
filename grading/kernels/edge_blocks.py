"""Blocks of 2x2 pixels of the frame, and what `fringes` must know of each: its lightest pixel, its
darkest, and how much of it and of its neighbourhood is part of no edge."""

from grading.kernels.coarse_colour import weigh, widen
from grading.kernels.primitives import aligned, borrowing, clamp, f32, fma, inner, u64

STEEP = f32(0.1)
"""Rise within a pixel, as a share of the light there, from which a place is part of an edge and no
longer even; at 1.4 times as much it is so wholly."""

LEAST = f32(1e-6)
"""Light that replaces anything darker where it is a divisor."""

NOTHING = f32(-1e30)
"""Below all light: no such place."""

ENOUGH = f32(0.05)
"""Share of even places in a neighbourhood from which colours are bounded, wholly at twice that."""

ROUND = 4
"""Rows of smoothed light that are kept: those of a block and one on either side."""


@inner
def gather(rgb, phase, wanted, far, noise):
    """How far pixels are part of an edge, 0..1, and blocks about those that are wanted.

    Blocks are counted from the one in which the tile begins; `phase` is 1 down and across where it
    begins within a block of the frame, and `wanted` are rows and columns of blocks, each from one
    to before another. The first result has a column more at either end, and is known within `far`
    blocks of what is wanted. Of blocks there are seven planes, with `2 * far` more on each side,
    which tell of nothing where the tile has none: smoothed red, green and blue of the lightest
    pixel, the same of the darkest, and the share of pixels that are even, known as the first is.
    """
    (top, bottom, left, right), margin, columns = wanted, 2 * far, rgb.shape[2]
    share = aligned((rgb.shape[1], columns + 2))
    blocks = aligned((7, bottom - top + 2 * margin, right - left + 2 * margin))
    light, sums = aligned((ROUND, 3, columns + 2)), aligned((1, columns + 2))
    chosen = aligned((3, columns + 2))
    _gather(rgb, phase, wanted, far, noise, light, sums, chosen, share, blocks)
    return share, blocks


@borrowing
def _gather(rgb, phase, wanted, far, noise, light, sums, chosen, share, blocks):
    (down, over), (top, bottom, left, right), margin = phase, wanted, 2 * far
    rows, columns = (rgb.shape[1] + down + 1) // 2, (rgb.shape[2] + over + 1) // 2
    begin, end = max(top - margin, 0), min(bottom + margin, rows)
    first, size = max(left - margin, 0), min(right + margin, columns) - max(left - margin, 0)
    up, start, place = top - margin, first - left + margin, 2 * first + 1 - over
    _leave_margins(blocks, (begin - up, end - up, start, start + size))
    last, smoothed = rgb.shape[1] - 1, max(2 * begin - down - 1, 0)
    for y in range(begin, end):
        above, below = max(2 * y - down, 0), min(2 * y + 1 - down, last)
        while smoothed <= min(below + 1, last):
            _smooth(rgb, smoothed, sums, light[smoothed % ROUND])
            smoothed += 1
        if top - far <= y < bottom + far:
            for row in range(above, below + 1):
                before, after = max(row - 1, 0) % ROUND, min(row + 1, last) % ROUND
                inside = share[row, 1:-1]
                _slopes(light[before], light[row % ROUND], light[after], noise, inside)
                widen(share[row : row + 1], 1)
            even = blocks[6, y - up, start : start + size]
            _even(share[above, place:], share[below, place:], even)
        here, beside = light[above % ROUND], light[below % ROUND]
        for k in range(0, 6, 3):
            red, blue = blocks[k, y - up, start:], blocks[k + 2, y - up, start:]
            green, sign = blocks[k + 1, y - up, start : start + size], f32(1) if k == 0 else f32(-1)
            _choose(here, beside, sign, place, chosen, red, green, blue)


@inner
def _leave_margins(blocks, known):
    top, bottom, left, right = known
    for k in range(7):
        value = NOTHING if k < 3 else f32(0) if k == 6 else -NOTHING
        for y in range(blocks.shape[1]):
            row = blocks[k, y]
            whole = y < top or y >= bottom
            for x in range(row.size if whole else left):
                row[x] = value
            for x in range(row.size if whole else right, row.size):
                row[x] = value


@inner
def _smooth(rgb, y, sums, light):
    """Means of 3x3 pixels by weights 1 2 1, in rows with one more at either end."""
    last, columns = rgb.shape[1] - 1, rgb.shape[2]
    for c in range(3):
        weigh(rgb[c, max(y - 1, 0)], rgb[c, y], rgb[c, min(y + 1, last)], sums[0, 1:-1])
        widen(sums, 1)
        a, b, d, out = sums[0], sums[0, 1:], sums[0, 2:], light[c, 1:]
        for x in range(columns):
            mean = f32(1 / 16) * fma(f32(2), b[x], a[x] + d[x])
            out[x] = mean if mean > LEAST else LEAST
    widen(light, 1)


@inner
def _slopes(above, here, below, noise, share):
    """How far pixels are part of an edge: by the channel that rises most beyond its noise."""
    (r, g, b), limits = (here[0], here[1], here[2]), (noise[0], noise[1], noise[2])
    up0, up1, up2 = above[0, 1:], above[1, 1:], above[2, 1:]
    down0, down1, down2 = below[0, 1:], below[1, 1:], below[2, 1:]
    for x in range(share.size):
        red = _rise(down0[x] - up0[x], r[x + 2] - r[x], r[x + 1], limits)
        green = _rise(down1[x] - up1[x], g[x + 2] - g[x], g[x + 1], limits)
        blue = _rise(down2[x] - up2[x], b[x + 2] - b[x], b[x + 1], limits)
        share[x] = max(max(red, green), blue)


@inner
def _rise(down, across, level, noise):
    rise, squared = f32(0.25) * fma(down, down, across * across), level * level
    least = fma(fma(STEEP, STEEP, noise[2]), squared, fma(noise[1], level, noise[0]))
    return clamp(rise / least - f32(1), f32(0), f32(1))


@inner
def _even(first, second, out):
    for x in range(u64(out.size)):
        a = f32(1) if first[x + x] > f32(0) else f32(0)
        b = f32(1) if first[x + x + u64(1)] > f32(0) else f32(0)
        c = f32(1) if second[x + x] > f32(0) else f32(0)
        d = f32(1) if second[x + x + u64(1)] > f32(0) else f32(0)
        out[x] = fma(f32(-0.25), (a + b) + (c + d), f32(1))


@inner
def _choose(lights, other, sign, place, chosen, red, green, blue):
    """Of each block the lightest pixel by green, or the darkest if `sign` is -1."""
    r, g, b = lights[0, place:], lights[1, place:], lights[2, place:]
    below_r, below_g, below_b = other[0, place:], other[1, place:], other[2, place:]
    lines = chosen[0, : 2 * green.size], chosen[1], chosen[2]
    _choose_of_rows(r, g, b, below_r, below_g, below_b, sign, *lines)
    _choose_of_pairs(*lines, sign, red, green, blue)


@inner
def _choose_of_rows(r, g, b, below_r, below_g, below_b, sign, red, green, blue):
    for x in range(red.size):
        own, below = (r[x], g[x], b[x]), (below_r[x], below_g[x], below_b[x])
        red[x], green[x], blue[x] = _further(own, below, sign)


@inner
def _choose_of_pairs(r, g, b, sign, red, green, blue):
    for x in range(u64(green.size)):
        own, after = (r[x + x], g[x + x], b[x + x]), x + x + u64(1)
        red[x], green[x], blue[x] = _further(own, (r[after], g[after], b[after]), sign)


@inner
def _further(own, other, sign):
    """The one of two pixels whose green is further on."""
    r, g, b = own
    other_r, other_g, other_b = other
    on = sign * other_g > sign * g
    return other_r if on else r, other_g if on else g, other_b if on else b


@inner
def sureness(even, far):
    """How far enough of a block's neighbourhood is even, 0..1; 0 if all of the block is."""
    rows, columns = even.shape[0] - 4 * far, even.shape[1] - 4 * far
    sure, total = aligned((rows, columns)), aligned((columns + 2 * far + 1,))
    for x in range(total.size):
        total[x] = f32(0)
    _tell_sureness(even, far, total, sure)
    return sure


@borrowing
def _tell_sureness(even, far, total, sure):
    rows, columns = sure.shape
    size, inside = 2 * far + 1, total[1:]
    inverse = f32(1) / (ENOUGH * f32(size * size))
    for y in range(2 * far):
        _add(even[far + y, far:], f32(1), inside)
    for y in range(rows):
        _add(even[3 * far + y, far:], f32(1), inside)
        count, here, own = f32(0), sure[y], even[2 * far + y, 2 * far :]
        for x in range(2 * far):
            count += inside[x]
        for x in range(columns):
            count += total[x + size] - total[x]
            enough = clamp(fma(count, inverse, f32(-1)), f32(0), f32(1))
            here[x] = enough if own[x] < f32(1) else f32(0)
        _add(even[far + y, far:], f32(-1), inside)


@inner
def _add(row, sign, total):
    for x in range(total.size):
        total[x] += sign * row[x]
