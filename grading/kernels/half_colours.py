"""Colours at half size, led by a clean luminance: how `noise` takes their noise away.

A colour is a line in the luminance of its neighbourhood, by a guided filter (He, Sun and Tang, IEEE
PAMI 35:1397, 2013); the line's slope and offset are brought to full size, and meet the luminance
there (He and Sun, arXiv:1505.00996, 2015). Where a colour goes its own way it is told by how far it
is from that line: farther than its noise, and than the false colours that demosaicing makes of
diagonal detail, which it cannot tell from colour (Gunturk et al., "Demosaicking: color filter array
interpolation", IEEE Signal Processing Magazine 22:44, 2005).
"""

from grading.kernels import cosines, eight
from grading.kernels.primitives import aligned, between, clamp, f32, fma, inner, u64
from grading.kernels.regions import halved

EVEN = f32(1)
"""Variance of the luminance, in that of a site's noise, up to which it leads no colour; ours."""

APART, FADE = f32(7.7), f32(1.5)
"""Energy of both colours beside their lines, in variances of one's noise there, from which it
counts, and over how many times as much it comes to count fully; ours. Noise makes a mean of 2, and
exceeds this in one of a thousand places."""

FALSE = f32(2.1)
"""What `APART` rises by for each variance of a site's noise that diagonal detail has; ours."""

NEVER = f32(1e-12)
"""Added to what is divided by, where it may be 0."""


@inner
def led(led_by, diagonal, lamps, noisy, planes, limits, colours, beside, near, far, begin):
    """How both colours follow the luminance at half size, in `far`: their slopes, the rest, whose
    noise is gone in `near`, and how surely they go their own way. Lamps are those in `near`."""
    margin, top, left = eight.REACH, (begin[0] + far[0]) // 2, (begin[1] + far[2]) // 2
    down, over = (begin[0] + far[0]) % 2, (begin[1] + far[2]) % 2
    rows, columns = led_by.shape[0] - 2 * margin, led_by.shape[1] - 2 * margin
    half = aligned((3, rows, columns))
    for y in range(rows):
        _copy(led_by[y + margin, margin : margin + columns], half[0, y])
    _halve_sums(noisy, planes, far, down, over, half)
    slopes, rest = aligned((2, rows, columns)), aligned((2, rows, columns))
    spread, apart = aligned((rows, columns)), aligned((rows, columns))
    follow(half, slopes, rest, spread)
    keep_apart(half, slopes, rest, spread, diagonal, beside, apart)
    within = halved(near, begin, (top, left))
    lit = aligned((within[1] - within[0], within[3] - within[2]))
    shape = 0, lamps.shape[0], 0, lamps.shape[1]
    halve(lamps, shape, (begin[0] + near[0]) % 2, (begin[1] + near[2]) % 2, lit)
    quieten(half, slopes, lit, limits, colours, within, top, left, rest)
    return slopes, rest, apart


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
def diagonals(plane, region, down, over, out):
    """Energy of what is diagonal in the same blocks, as detail as fine as pixels is."""
    top, bottom, left, right = region
    columns, line = right - left, aligned((2 * out.shape[1],))
    for y in range(out.shape[0]):
        first = plane[max(top + 2 * y - down, top), left:right]
        second = plane[min(top + 2 * y + 1 - down, bottom - 1), left:right]
        for x in range(columns):
            line[over + x] = first[x] - second[x]
        line[0] = line[over]
        line[line.size - 1] = line[over + columns - 1]
        for x in range(u64(out.shape[1])):
            difference = f32(0.5) * (line[x + x] - line[x + x + u64(1)])
            out[y, x] = difference * difference


@inner
def follow(half, slopes, rest, spread):
    """How each colour goes with the luminance: a slope and what is left, means of 3x3 windows; and
    the luminance's variance."""
    rows, columns = half.shape[1:]
    light = half[0]
    product, mean, level, offset = (
        aligned((rows, columns)), aligned((rows, columns)), aligned((rows, columns)),
        aligned((rows, columns)),
    )  # fmt: skip
    joint = aligned((rows, columns))
    mean3(light, mean)
    for y in range(rows):
        _product(light[y], light[y], product[y])
    mean3(product, spread)
    for y in range(rows):
        _variance(mean[y], spread[y])
    for k in range(2):
        colour = half[1 + k]
        mean3(colour, level)
        for y in range(rows):
            _product(light[y], colour[y], product[y])
        mean3(product, joint)
        for y in range(rows):
            _line(mean[y], spread[y], level[y], joint[y], product[y], offset[y])
        mean3(product, slopes[k])
        mean3(offset, rest[k])


@inner
def keep_apart(half, slopes, rest, spread, diagonal, beside, apart):
    """How surely the colours go their own way, 0..1, and what becomes of them.

    Each becomes its line, where it is apart it stays. Its slope keeps the share of its energy that
    the luminance explains (the coefficient of determination), so that no more detail is brought to
    full size than follows the luminance.
    """
    rows, columns = spread.shape
    away, told, false = aligned(spread.shape), aligned(spread.shape), aligned(spread.shape)
    one, two = f32(1) / beside[0], f32(1) / beside[1]
    for y in range(rows):
        _energy_apart(
            half[0, y], half[1, y], half[2, y], slopes[0, y], slopes[1, y], rest[0, y],
            rest[1, y], one, two, told[y],
        )  # fmt: skip
    mean3(told, away)
    mean3(diagonal, false)
    for y in range(rows):
        _judge(
            away[y], false[y], spread[y], slopes[0, y], slopes[1, y], one, two, apart[y], told[y]
        )
        for k in range(2):
            _take(half[0, y], rest[k, y], apart[y], told[y], half[1 + k, y], slopes[k, y])


@inner
def _energy_apart(light, first, second, slope, steep, rest, offset, one, two, out):
    for x in range(out.size):
        d = first[x] - fma(slope[x], light[x], rest[x])
        e = second[x] - fma(steep[x], light[x], offset[x])
        out[x] = fma(d * d, one, e * e * two)


@inner
def _judge(away, false, spread, slope, steep, one, two, apart, told):
    for x in range(away.size):
        least = fma(FALSE, false[x], APART)
        apart[x] = clamp((away[x] - least) / (FADE * least), f32(0), f32(1))
        explained = fma(slope[x] * slope[x], one, steep[x] * steep[x] * two) * spread[x]
        told[x] = explained / (explained + away[x] + NEVER)


@inner
def _take(light, rest, apart, told, colour, slope):
    for x in range(colour.size):
        led = fma(slope[x], light[x], rest[x])
        colour[x] = fma(apart[x], colour[x] - led, led)
        slope[x] = told[x] * slope[x]


@inner
def _product(a, b, out):
    for x in range(out.size):
        out[x] = a[x] * b[x]


@inner
def _variance(mean, square):
    for x in range(mean.size):
        spread = fma(-mean[x], mean[x], square[x])
        square[x] = spread if spread > f32(0) else f32(0)


@inner
def _line(mean, spread, level, joint, slope, offset):
    for x in range(slope.size):
        slope[x] = fma(-mean[x], level[x], joint[x]) / (spread[x] + EVEN)
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
def quieten(half, slopes, lit, limits, colours, region, top, left, rest):
    """What is left of both colours beside their slopes, in a region, once they have lost their
    noise.

    Where a lamp is, by `lit` 0..1 there, they lose none: of a spot, all frequencies have little.
    """
    rows, columns = half.shape[1:]
    margin = eight.REACH
    shape = rows + 2 * margin, columns + 2 * margin
    wide, clean = aligned(shape), aligned(shape)
    first, last, low, high = region
    within = first + margin, last + margin, low + margin, high + margin
    for k in range(2):
        scale = f32(1) / colours[k]
        for y in range(rows):
            _scaled(half[1 + k, y], scale, wide[y + margin, margin:])
        eight.mirror(wide, (margin, rows + margin, margin, columns + margin))
        cosines.shrink(wide, limits, clean, within, top - margin, left - margin)
        for y in range(first, last):
            after, before = clean[y + margin, low + margin :], wide[y + margin, low + margin :]
            _rest(
                after, before, lit[y - first], colours[k], slopes[k, y, low:], half[0, y, low:],
                rest[k, y, low:high],
            )  # fmt: skip


@inner
def _scaled(values, scale, out):
    for x in range(values.size):
        out[x] = scale * values[x]


@inner
def _rest(clean, noisy, lit, scale, slope, light, out):
    for x in range(out.size):
        own = between(clean[x], noisy[x], lit[x])
        out[x] = fma(-slope[x], light[x], scale * own)


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
