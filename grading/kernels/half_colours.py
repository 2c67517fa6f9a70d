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
from grading.kernels.halves import add, halve, halve_rows
from grading.kernels.own_colours import keep_apart, settle
from grading.kernels.piloted import shrink_by_pilot
from grading.kernels.primitives import aligned, borrowing, f32, inner
from grading.kernels.regions import halved
from grading.kernels.texture import find_texture

ABOUT = 3
"""Pixels of half size in each direction that a clean colour and its line depend on: two for the
line, one for what is told of it."""

FAR = 2 * (ABOUT + max(eight.REACH + ABOUT, texture.REACH))
"""Pixels in each direction that colours depend on: those for their lines, their blocks, and again
for the lines that are their pilots; those for texture are fewer."""


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
    odd, first = (top % 2, left % 2), (top - 2 - place[0], left - 2 - place[1])
    blocks = aligned((5, (odd[0] + rows + 1) // 2, (odd[1] + columns + 1) // 2))
    keep_apart(
        half, slopes, rest, spread, diagonal, excess, first, beside, odd, pilot, given, away, apart,
        blocks,
    )  # fmt: skip
    within = halved(near, begin, (top, left))
    about = (
        max(within[0] - ABOUT, 0), min(within[1] + ABOUT, rows),
        max(within[2] - ABOUT, 0), min(within[3] + ABOUT, columns),
    )  # fmt: skip
    lit = aligned((within[1] - within[0], within[3] - within[2]))
    textured, odd = find_texture(blocks, within, odd)
    shape = 0, lamps.shape[0], 0, lamps.shape[1]
    halve(lamps, shape, (begin[0] + near[0]) % 2, (begin[1] + near[2]) % 2, lit)
    quiet = quieten(half[0], given, pilot, limits, waves, colours, about, top, left)
    settle(
        half, quiet, follow(quiet), beside, away, pilot, textured, odd, lit, coarse, about, within,
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


@inner
def _copy(source, target):
    for x in range(source.size):
        target[x] = source[x]
