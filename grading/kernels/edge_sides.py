"""What both sides of an edge have, among blocks of 2x2 pixels: ratios of colours, and greens.

A place is even where no channel rises by more than noise does. A lamp too small to be even counts
by its lightest pixels, a branch too thin by its darkest. The thresholds are ours.
"""

from grading.kernels.coarse_colour import copy
from grading.kernels.edge_blocks import NOTHING
from grading.kernels.extrema import most, most_along, most_down, most_of_rows
from grading.kernels.primitives import aligned, borrowing, f32, inner

LOWER = f32(0.5)
"""Share of the lightest green about a place below which it is the dark side of an edge."""

LIGHTEST, DARKEST = f32(0.99), f32(1.02)
"""How near a small lamp's lightest place, and a thin line's darkest, are to the extreme of the
blocks next to it."""

SMALL = f32(1.5)
"""How many times as light as the darkest there a lamp is, and the lightest, as a thin line."""

GATHERED = 10
"""Planes of what the sides have: for red and for blue the highest and lowest ratio to green on
light sides, and the most and least of the channel on dark ones; then that of green."""


@inner
def most_green(blocks, far, part, lines):
    """The lightest green about each block of a part, and about as many more as may be a side."""
    first, last, begin, end = part
    size, columns = 2 * far + 1, end - begin + 2 * far
    wide, rows = columns + 2 * far, last - first + 2 * far
    room, greens = aligned((rows + 2 * far, columns)), aligned((rows, columns))
    _most_about(blocks[1], first, begin, wide, size, lines, room, greens)
    return greens


@borrowing
def _most_about(plane, first, begin, wide, size, lines, room, out):
    for y in range(room.shape[0]):
        copy(plane[first + y, begin:], lines[0, :wide])
        most_along(lines, wide, size, room[y])
    step = most_down(room, size)
    for y in range(out.shape[0]):
        most_of_rows(room, y, size, step, out[y])


@inner
def sides_along(blocks, most, far, first, begin, lines):
    """The most along rows of each plane of what sides have, side by side; the least is negated."""
    rows, columns = most.shape
    room = aligned((rows, GATHERED * columns))
    three = aligned((columns,)), aligned((columns,)), aligned((columns,))
    _sides_of_rows(blocks, most, far, first, begin, lines, three, room)
    return room


@borrowing
def _sides_of_rows(blocks, most, far, first, begin, lines, three, room):
    rows, columns = most.shape
    wide, (ratio, light, dark) = GATHERED * columns, three
    planes = lines[0, :wide].reshape(GATHERED, columns)
    for y in range(rows):
        at, left = first + y + far, begin + far
        green, dark_green = blocks[1, at, left:], blocks[4, at, left:]
        _find_small(blocks, at, left, lines, light, dark)
        _tell_sides(green, dark_green, blocks[6, at, left:], most[y], light, dark)
        for c in range(2):
            _divide(blocks[2 * c, at, left:], green, ratio)
            _mark(ratio, light, planes[4 * c], planes[4 * c + 1])
            _mark(blocks[3 + 2 * c, at, left:], dark, planes[4 * c + 2], planes[4 * c + 3])
        _mark(dark_green, dark, planes[8], planes[9])
        most_along(lines, wide, 2 * far + 1, room[y, : wide - 2 * far])


@inner
def _find_small(blocks, y, left, lines, lamp, line):
    """1 where a block has a light that is lighter than all about it, and where a dark line."""
    low, high, x = lines[0, : lamp.size + 2], lines[1, : lamp.size + 2], left - 1
    _least(blocks[4, y - 1, x:], blocks[4, y, x:], blocks[4, y + 1, x:], low)
    most(blocks[1, y - 1, x:], blocks[1, y, x:], blocks[1, y + 1, x:], high)
    _tell_small(blocks[1, y, left:], blocks[4, y, left:], low, high, lamp, line)


@inner
def _least(a, b, c, out):
    for x in range(out.size):
        out[x] = min(min(a[x], c[x]), b[x])


@inner
def _tell_small(lightest, darkest, low, high, lamp, line):
    for x in range(lamp.size):
        least = min(min(low[x], low[x + 2]), low[x + 1])
        most = max(max(high[x], high[x + 2]), high[x + 1])
        light, dark = lightest[x], darkest[x]
        lamp[x] = f32(1) if (light >= LIGHTEST * most) & (light > SMALL * least) else f32(0)
        line[x] = f32(1) if (dark <= DARKEST * least) & (most > SMALL * dark) else f32(0)


@inner
def _tell_sides(lightest, darkest, even, most, light, dark):
    """Which blocks that are even or small are a light side, and which a dark one, 0 or 1."""
    for x in range(light.size):
        green, limit, flat = lightest[x], LOWER * most[x], even[x] > f32(0)
        lamp, line, bright = light[x] > f32(0), dark[x] > f32(0), green >= limit
        low = (flat & (green < limit)) | (line & (darkest[x] < limit))
        light[x] = f32(1) if (bright & flat) | lamp else f32(0)
        dark[x] = f32(1) if low else f32(0)


@inner
def _divide(values, by, out):
    for x in range(out.size):
        out[x] = values[x] / by[x]


@inner
def _mark(values, side, most, least):
    for x in range(most.size):
        value, there = values[x], side[x] > f32(0)
        most[x] = value if there else NOTHING
        least[x] = -value if there else NOTHING
