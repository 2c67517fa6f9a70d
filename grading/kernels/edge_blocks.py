"""Blocks of 2x2 pixels of the frame, and what `fringes` must know of each: its lightest pixel, its
darkest, and how much of it and of its neighbourhood is part of no edge."""

from grading.kernels.coarse_colour import weigh, widen
from grading.kernels.primitives import aligned, clamp, f32, fma, inner

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
def gather(rgb, down, over, margin, noise):
    """How far pixels are part of an edge, 0..1, and the blocks of a tile.

    The first is of shape (rows, 2 * columns of blocks), whole blocks, so the tile begins at column
    `over`; `down` and `over` are 1 where the tile begins within a block of the frame. Of blocks
    there are seven planes, with a margin that holds none: smoothed red, green and blue of the
    lightest pixel, the same of the darkest, and the share of pixels that are even.
    """
    rows, columns = (rgb.shape[1] + down + 1) // 2, (rgb.shape[2] + over + 1) // 2
    share = aligned((rgb.shape[1], 2 * columns))
    blocks = aligned((7, rows + 2 * margin, columns + 2 * margin))
    _leave_margins(blocks, margin)
    light, sums = aligned((ROUND, 3, rgb.shape[2] + 2)), aligned((1, rgb.shape[2] + 2))
    chosen, smoothed, last = aligned((2, 3, 2 * columns)), 0, rgb.shape[1] - 1
    for y in range(rows):
        first, second = max(2 * y - down, 0), min(2 * y + 1 - down, last)
        while smoothed <= min(second + 1, last):
            _smooth(rgb, smoothed, sums, light[smoothed % ROUND])
            smoothed += 1
        for row in range(first, second + 1):
            up, low = max(row - 1, 0) % ROUND, min(row + 1, last) % ROUND
            inside = share[row, over : over + rgb.shape[2]]
            _slopes(light[up], light[row % ROUND], light[low], noise, inside)
            _close(share[row], over, rgb.shape[2])
        _even(share[first], share[second], blocks[6, margin + y, margin : margin + columns])
        _choose(light[first % ROUND], light[second % ROUND], over, chosen)
        for k in range(6):
            green, values, sign = chosen[k // 3, 1], chosen[k // 3, k % 3], f32(1 - k // 3 * 2)
            out = blocks[k, margin + y, margin : margin + columns]
            _choose_of_pair(green, sign, values, out)
    return share, blocks


@inner
def _leave_margins(blocks, margin):
    rows, columns = blocks.shape[1:]
    for k in range(7):
        value = NOTHING if k < 3 else f32(0) if k == 6 else -NOTHING
        for y in range(rows):
            row, whole = blocks[k, y], y < margin or y >= rows - margin
            for x in range(columns if whole else margin):
                row[x] = value
                row[columns - 1 - x] = value


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
    read, photon, square = noise[0], noise[1], noise[2]
    for x in range(share.size):
        share[x] = f32(0)
    for c in range(3):
        up, down = above[c, 1:], below[c, 1:]
        before, middle, after = here[c], here[c, 1:], here[c, 2:]
        for x in range(share.size):
            v, h, level = down[x] - up[x], after[x] - before[x], middle[x]
            rise, squared = f32(0.25) * fma(v, v, h * h), level * level
            least = fma(fma(STEEP, STEEP, square), squared, fma(photon, level, read))
            share[x] = max(share[x], clamp(rise / least - f32(1), f32(0), f32(1)))


@inner
def _close(line, over, size):
    """Repeat the outermost pixels where their blocks are cut."""
    line[0] = line[over]
    line[line.size - 1] = line[over + size - 1]


@inner
def _even(first, second, out):
    for x in range(out.size):
        a = f32(1) if first[2 * x] > f32(0) else f32(0)
        b = f32(1) if first[2 * x + 1] > f32(0) else f32(0)
        c = f32(1) if second[2 * x] > f32(0) else f32(0)
        d = f32(1) if second[2 * x + 1] > f32(0) else f32(0)
        out[x] = fma(f32(-0.25), (a + b) + (c + d), f32(1))


@inner
def _choose(first, second, over, chosen):
    """The lighter pixels of two rows, and the darker ones, by green."""
    size = first.shape[1] - 2
    for k in range(2):
        for c in range(3):
            line = chosen[k, c]
            _choose_row(
                first[1, 1:], second[1, 1:], f32(1 - 2 * k), first[c, 1:], second[c, 1:],
                line[over : over + size],
            )  # fmt: skip
            _close(line, over, size)


@inner
def _choose_row(green, other, sign, first, second, out):
    for x in range(out.size):
        a, b = first[x], second[x]
        out[x] = b if sign * other[x] > sign * green[x] else a


@inner
def _choose_of_pair(green, sign, values, out):
    for x in range(out.size):
        a, b = values[2 * x], values[2 * x + 1]
        out[x] = b if sign * green[2 * x + 1] > sign * green[2 * x] else a


@inner
def sureness(even, far):
    """How far enough of a block's neighbourhood is even, 0..1; 0 if all of the block is."""
    rows, columns = even.shape[0] - 4 * far, even.shape[1] - 4 * far
    size, sure, total = 2 * far + 1, aligned((rows, columns)), aligned((columns + 2 * far + 1,))
    inverse = f32(1) / (ENOUGH * f32(size * size))
    for x in range(total.size):
        total[x] = f32(0)
    inside = total[1:]
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
    return sure


@inner
def _add(row, sign, total):
    for x in range(total.size):
        total[x] += sign * row[x]
