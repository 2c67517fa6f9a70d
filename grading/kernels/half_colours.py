"""Colours at half size, led by a clean luminance: how `noise` takes their noise away.

A colour is a line in the luminance of its neighbourhood, by a guided filter (`guided`), but where
it goes its own way (`own_colours`); what is left of its noise goes by cosines, of which the lines
tell where there may be colour at all (`piloted`). Once it is clean, the filter is asked again, and
texture as weak as the noise gets back a share of what it lost (`texture`). The slope and offset of
that line are brought to full size, and meet the luminance there (He and Sun, arXiv:1505.00996,
2015).
"""

from grading.kernels import eight, texture
from grading.kernels.guided import follow
from grading.kernels.own_colours import keep_apart, settle
from grading.kernels.piloted import shrink_by_pilot
from grading.kernels.primitives import aligned, borrowing, f32, fma, inner, u64
from grading.kernels.regions import halved

ABOUT = 3
"""Pixels of half size in each direction that a clean colour and its line depend on: two for the
line, one for what is told of it."""

FAR = 2 * (ABOUT + max(eight.REACH + ABOUT, texture.REACH))
"""Pixels in each direction that colours depend on: those for their lines, their blocks, and again
for the lines that are their pilots; those for texture are as many."""


@inner
def led(
    led_by, coarse, diagonal, lamps, noisy, planes, excess, place, limits, waves, colours, beside,
    near, far, begin,
):  # fmt: skip
    """How both colours follow the luminance at half size, in `far`: their slopes, the rest, both
    clean in `near`, and how surely they go their own way. Lamps are those in `near`; the excess and
    its place are those of `grading.kernels.excess.exceeding`."""
    margin, top, left = eight.REACH, (begin[0] + far[0]) // 2, (begin[1] + far[2]) // 2
    down, over = (begin[0] + far[0]) % 2, (begin[1] + far[2]) % 2
    rows, columns = led_by.shape[0] - 2 * margin, led_by.shape[1] - 2 * margin
    half, pilot = aligned((3, rows, columns)), aligned((2, rows, columns))
    for y in range(rows):
        _copy(led_by[y + margin, margin : margin + columns], half[0, y])
    _halve_sums(noisy, planes, far, down, over, half)
    slopes, rest, spread = follow(half)
    away, apart, given = aligned((rows, columns)), aligned((rows, columns)), aligned(pilot.shape)
    false, unseen = aligned((rows, columns)), aligned((rows, columns))
    keep_apart(
        half, slopes, rest, diagonal, beside, pilot, given, away, apart, false, unseen
    )  # fmt: skip
    within = halved(near, begin, (top, left))
    about = (
        max(within[0] - ABOUT, 0), min(within[1] + ABOUT, rows),
        max(within[2] - ABOUT, 0), min(within[3] + ABOUT, columns),
    )  # fmt: skip
    lit = aligned((within[1] - within[0], within[3] - within[2]))
    textured = aligned((2, lit.shape[0], lit.shape[1]))
    texture.find_texture(
        half, slopes, rest, spread, false, unseen, excess, place, (top, left), beside, within,
        textured,
    )  # fmt: skip
    shape = 0, lamps.shape[0], 0, lamps.shape[1]
    halve(lamps, shape, (begin[0] + near[0]) % 2, (begin[1] + near[2]) % 2, lit)
    quiet = quieten(half[0], given, pilot, limits, waves, colours, about, top, left)
    settle(
        half, quiet, follow(quiet), beside, away, pilot, textured, lit, coarse, about, within,
        slopes, rest,
    )  # fmt: skip
    return slopes, rest, apart


@inner
def _halve_sums(noisy, planes, region, down, over, half):
    """Both colours without their coarse noise, at half size."""
    columns = region[3] - region[2]
    lines = aligned((columns,)), aligned((columns,)), aligned((2 * half.shape[2],))
    _halve_sums_in(noisy, planes, region, down, over, lines, half)


@borrowing
def _halve_sums_in(noisy, planes, region, down, over, lines, half):
    top, bottom, low, high = region
    first, second, line = lines
    for k in range(2):
        for y in range(half.shape[1]):
            up, under = max(top + 2 * y - down, top), min(top + 2 * y + 1 - down, bottom - 1)
            add(noisy[k, up, low:high], planes[k, up, low:high], first)
            add(noisy[k, under, low:high], planes[k, under, low:high], second)
            halve_rows(first, second, over, line, half[1 + k, y])


@borrowing
def add(a, b, out):
    """Sums of two rows."""
    for x in range(out.size):
        out[x] = a[x] + b[x]


@inner
def halve(plane, region, down, over, out):
    """Means of the frame's blocks of 2x2 pixels in a region of a plane.

    Its outermost blocks may be cut, the first by `down` rows and `over` columns."""
    _halve(plane, region, down, over, aligned((2 * out.shape[1],)), out)


@borrowing
def _halve(plane, region, down, over, line, out):
    top, bottom, left, right = region
    for y in range(out.shape[0]):
        first = plane[max(top + 2 * y - down, top), left:right]
        second = plane[min(top + 2 * y + 1 - down, bottom - 1), left:right]
        halve_rows(first, second, over, line, out[y])


@borrowing
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
    _diagonals(plane, region, down, over, aligned((2 * out.shape[1],)), out)


@borrowing
def _diagonals(plane, region, down, over, line, out):
    top, bottom, left, right = region
    columns = right - left
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
def quieten(light, given, pilot, limits, waves, colours, region, top, left):
    """A region of the luminance and of both colours, once these have lost their noise."""
    rows, columns = light.shape
    margin = eight.REACH
    shape = rows + 2 * margin, columns + 2 * margin
    wide, known, clean = aligned(shape), aligned(shape), aligned(shape)
    first, last, low, high = region
    out = aligned((3, last - first, high - low))
    for y in range(first, last):
        _copy(light[y, low:high], out[0, y - first])
    for k in range(2):
        scale = f32(1) / colours[k]
        _widen(given[k], scale, wide)
        _widen(pilot[k], scale, known)
        within = first + margin, last + margin, low + margin, high + margin
        shrink_by_pilot(wide, known, limits, waves, clean, within, top - margin, left - margin)
        for y in range(first, last):
            row = clean[y + margin, low + margin : high + margin]
            _scaled(row, colours[k], out[1 + k, y - first])
    return out


@borrowing
def _widen(plane, scale, out):
    """A multiple of a plane in margins as if it were mirrored."""
    rows, columns = plane.shape
    margin = eight.REACH
    for y in range(rows):
        _scaled(plane[y], scale, out[y + margin, margin:])
    eight.mirror(out, (margin, rows + margin, margin, columns + margin))


@inner
def _scaled(values, scale, out):
    for x in range(values.size):
        out[x] = scale * values[x]


@borrowing
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
