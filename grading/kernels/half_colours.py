"""Colours at half size, led by a clean luminance: how `noise` takes their noise away.

A colour is a line in the luminance of its neighbourhood, by a guided filter (He, Sun and Tang, IEEE
PAMI 35:1397, 2013); the line's slope and offset are brought to full size, and meet the luminance
there (He and Sun, arXiv:1505.00996, 2015).
"""

from grading.kernels import cosines, eight
from grading.kernels.primitives import aligned, f32, fma, inner

EVEN = f32(1)
"""Variance of the luminance, in that of a site's noise, up to which it leads no colour; ours."""


@inner
def add(a, b, out):
    """Sums of two rows."""
    for x in range(out.size):
        out[x] = a[x] + b[x]


@inner
def halve(plane, down, over, out):
    """Means of the frame's blocks of 2x2 pixels, of which the outermost may be cut."""
    rows, columns = plane.shape
    line = aligned((2 * out.shape[1],))
    for y in range(out.shape[0]):
        first = plane[max(2 * y - down, 0)]
        second = plane[min(2 * y + 1 - down, rows - 1)]
        add(first, second, line[over : over + columns])
        line[0] = line[over]
        line[line.size - 1] = line[over + columns - 1]
        pairs = line.reshape(out.shape[1], 2)
        for x in range(out.shape[1]):
            out[y, x] = f32(0.25) * (pairs[x, 0] + pairs[x, 1])


@inner
def follow(half, slopes, rest):
    """How each colour goes with the luminance: a slope and what is left, means of 3x3 windows."""
    rows, columns = half.shape[1:]
    light = half[0]
    product, mean, square, joint = (
        aligned((rows, columns)), aligned((rows, columns)), aligned((rows, columns)),
        aligned((rows, columns)),
    )  # fmt: skip
    mean3(light, mean)
    for y in range(rows):
        _product(light[y], light[y], product[y])
    mean3(product, square)
    level, offset = aligned((rows, columns)), aligned((rows, columns))
    for k in range(2):
        colour = half[1 + k]
        mean3(colour, level)
        for y in range(rows):
            _product(light[y], colour[y], product[y])
        mean3(product, joint)
        for y in range(rows):
            _line(mean[y], square[y], level[y], joint[y], product[y], offset[y])
        mean3(product, slopes[k])
        mean3(offset, rest[k])


@inner
def _product(a, b, out):
    for x in range(out.size):
        out[x] = a[x] * b[x]


@inner
def _line(mean, square, level, joint, slope, offset):
    for x in range(slope.size):
        spread = fma(-mean[x], mean[x], square[x])
        spread = spread if spread > f32(0) else f32(0)
        slope[x] = fma(-mean[x], level[x], joint[x]) / (spread + EVEN)
        offset[x] = fma(-slope[x], mean[x], level[x])


@inner
def mean3(plane, out):
    """Means of 3x3 pixels, the outermost repeated."""
    rows, columns = plane.shape
    line = aligned((columns + 2,))
    for y in range(rows):
        up, here, low = plane[max(y - 1, 0)], plane[y], plane[min(y + 1, rows - 1)]
        for x in range(columns):
            line[x + 1] = (up[x] + low[x]) + here[x]
        line[0], line[columns + 1] = line[1], line[columns]
        before, after, row = line, line[2:], out[y]
        for x in range(columns):
            row[x] = f32(1 / 9) * ((before[x] + after[x]) + line[x + 1])


@inner
def quieten(half, slopes, rest, limits, colours, top, left):
    """Both colours at half size lose their noise; `rest` takes what changes."""
    rows, columns = half.shape[1:]
    margin = cosines.REACH
    wide, clean = aligned((rows + 2 * margin, columns + 2 * margin)), aligned((rows, columns))
    for k in range(2):
        scale = f32(1) / colours[k]
        for y in range(rows):
            _led(slopes[k, y], half[0, y], rest[k, y], scale, wide[y + margin, margin:])
        eight.mirror(wide)
        cosines.shrink(wide, limits, clean, top, left)
        for y in range(rows):
            _add_change(clean[y], wide[y + margin, margin:], colours[k], rest[k, y])


@inner
def _led(slope, light, rest, scale, out):
    for x in range(slope.size):
        out[x] = scale * fma(slope[x], light[x], rest[x])


@inner
def _add_change(after, before, scale, out):
    for x in range(out.size):
        out[x] = fma(scale, after[x] - before[x], out[x])


@inner
def enlarge(plane, y, over, line, out):
    """A row at full size, linearly between the middles of its blocks; `y` counts from the first."""
    near, far = y // 2, y // 2 - 1 + 2 * (y % 2)
    near, far = plane[near], plane[min(max(far, 0), plane.shape[0] - 1)]
    count = near.size
    for x in range(count):
        line[x + 1] = fma(f32(0.75), near[x], f32(0.25) * far[x])
    line[0], line[count + 1] = line[1], line[count]
    pairs, before, after = out.reshape(count, 2), line, line[2:]
    for x in range(count):
        own = f32(0.75) * line[x + 1]
        pairs[x, 0] = fma(f32(0.25), before[x], own)
        pairs[x, 1] = fma(f32(0.25), after[x], own)
