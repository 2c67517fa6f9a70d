"""Colours at half size, led by a clean luminance: how `noise` takes their noise away.

A colour is a line in the luminance of its neighbourhood, by a guided filter (He, Sun and Tang, IEEE
PAMI 35:1397, 2013); the line's slope and offset are brought to full size, and meet the luminance
there (He and Sun, arXiv:1505.00996, 2015).
"""

from grading.kernels import cosines, eight
from grading.kernels.primitives import aligned, f32, fma, inner, u64
from grading.kernels.regions import halved

EVEN = f32(1)
"""Variance of the luminance, in that of a site's noise, up to which it leads no colour; ours."""


@inner
def led(led_by, noisy, planes, limits, colours, near, far, begin):
    """How both colours follow the luminance in `far` at half size: their slopes, and the rest,
    whose noise is gone in `near`."""
    margin, top, left = eight.REACH, (begin[0] + far[0]) // 2, (begin[1] + far[2]) // 2
    down, over = (begin[0] + far[0]) % 2, (begin[1] + far[2]) % 2
    rows, columns = led_by.shape[0] - 2 * margin, led_by.shape[1] - 2 * margin
    half = aligned((3, rows, columns))
    for y in range(rows):
        _copy(led_by[y + margin, margin : margin + columns], half[0, y])
    _halve_sums(noisy, planes, far, down, over, half)
    slopes, rest = aligned((2, rows, columns)), aligned((2, rows, columns))
    follow(half, slopes, rest)
    within = halved(near, begin, (top, left))
    quieten(half, slopes, rest, limits, colours, within, top, left)
    return slopes, rest


@inner
def _halve_sums(noisy, planes, region, down, over, half):
    """Both colours without their coarse noise, at half size."""
    top, bottom, low, high = region
    first, second = aligned((high - low,)), aligned((high - low,))
    line = aligned((2 * half.shape[2],))
    for k in range(2):
        for y in range(half.shape[1]):
            up, under = max(top + 2 * y - down, top), min(top + 2 * y + 1 - down, bottom - 1)
            add(noisy[k, up, low:high], planes[k, up, low:high], first)
            add(noisy[k, under, low:high], planes[k, under, low:high], second)
            halve_rows(first, second, over, line, half[1 + k, y])


@inner
def add(a, b, out):
    """Sums of two rows."""
    for x in range(out.size):
        out[x] = a[x] + b[x]


@inner
def halve(plane, region, down, over, out):
    """Means of the frame's blocks of 2x2 pixels in a region of a plane.

    Its outermost blocks may be cut, the first by `down` rows and `over` columns."""
    top, bottom, left, right = region
    line = aligned((2 * out.shape[1],))
    for y in range(out.shape[0]):
        first = plane[max(top + 2 * y - down, top), left:right]
        second = plane[min(top + 2 * y + 1 - down, bottom - 1), left:right]
        halve_rows(first, second, over, line, out[y])


@inner
def halve_rows(first, second, over, line, out):
    """The same for a row of blocks; `line` has room for two values for each."""
    columns = first.size
    add(first, second, line[over : over + columns])
    line[0] = line[over]
    line[2 * out.size - 1] = line[over + columns - 1]
    for x in range(u64(out.size)):
        out[x] = f32(0.25) * (line[x + x] + line[x + x + u64(1)])


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
        mean_row(plane[max(y - 1, 0)], plane[y], plane[min(y + 1, rows - 1)], line, out[y])


@inner
def mean_row(up, here, low, line, out):
    """Means of 3x3 pixels about a row; `line` has room for two more."""
    columns = out.size
    for x in range(columns):
        line[x + 1] = (up[x] + low[x]) + here[x]
    line[0], line[columns + 1] = line[1], line[columns]
    before, after = line, line[2:]
    for x in range(columns):
        out[x] = f32(1 / 9) * ((before[x] + after[x]) + line[x + 1])


@inner
def quieten(half, slopes, rest, limits, colours, region, top, left):
    """Both colours at half size lose their noise in a region; `rest` takes what changes."""
    rows, columns = half.shape[1:]
    margin = eight.REACH
    shape = rows + 2 * margin, columns + 2 * margin
    wide, clean = aligned(shape), aligned(shape)
    first, last, low, high = region
    within = first + margin, last + margin, low + margin, high + margin
    for k in range(2):
        scale = f32(1) / colours[k]
        for y in range(rows):
            _led(slopes[k, y], half[0, y], rest[k, y], scale, wide[y + margin, margin:])
        eight.mirror(wide, (margin, rows + margin, margin, columns + margin))
        cosines.shrink(wide, limits, clean, within, top - margin, left - margin)
        for y in range(first, last):
            after, before = clean[y + margin, low + margin :], wide[y + margin, low + margin :]
            _add_change(after, before, colours[k], rest[k, y, low:high])


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
    before, after = line, line[2:]
    for x in range(u64(count)):
        own = f32(0.75) * line[x + u64(1)]
        out[x + x] = fma(f32(0.25), before[x], own)
        out[x + x + u64(1)] = fma(f32(0.25), after[x], own)


@inner
def _copy(source, target):
    for x in range(source.size):
        target[x] = source[x]
