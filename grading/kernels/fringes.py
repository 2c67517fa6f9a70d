"""Coloured fringes of edges: colours inside an edge kept between those of its two sides.

Where light of all channels is spread alike, each pixel of an edge between two even places is a
mixture of both, so red and blue follow green along a straight line. A lens that spreads or places
the channels differently leaves that line. Red and blue are brought back to it, or between several
where the sides have several colours, as Chung, Kim and Song bound colour differences ("Detecting
and eliminating chromatic aberration in digital images", ICIP 2009); in linear light here, so that
the bounds hold whatever the white balance. The thresholds are ours.

`edge_sides` tells what a side is. Where little in the neighbourhood is even, as in foliage, what
is a fringe cannot be told, and nothing is done.

Sides are looked for at half size, among the frame's blocks of 2x2 pixels, which is a quarter of the
work; where an edge lies, and what becomes of it, is a matter of pixels.
"""

import numpy as np

from grading.kernels.coarse_colour import copy
from grading.kernels.edge_blocks import NOTHING, gather, sureness
from grading.kernels.edge_sides import GATHERED, most_green, sides_along
from grading.kernels.extrema import most_down, most_of_rows
from grading.kernels.primitives import aligned, borrowing, clamp, compiled, f32, fma, inner, u64
from grading.region import Region

RUN = 192
"""Columns of blocks that are worked on at a time; what they need stays near to a core."""


def reach(far: int) -> int:
    """Pixels in each direction that a pixel depends on, for sides within `far` blocks.

    >>> reach(4)
    18
    """
    return 4 * far + 2


@compiled
def bound_colours(
    rgb: np.ndarray, here: Region, there: Region, far: int, noise: np.ndarray
) -> np.ndarray:
    """Light with red and blue inside of edges bounded by the colours of both sides.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear light; of a camera or of the scene, balanced or not. What lies beyond is taken to
        be like the outermost pixels.
    here, there : Region
        What there is, and what is wanted of it; blocks are those of the frame.
    far : int
        Blocks in each direction within which both sides of an edge are looked for, 1 or more.
    noise : ndarray, shape (3,), float32
        Variance of a channel: without light, for each unit of light, and for its square.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        Of what is wanted.
    """
    (top, bottom), (left, right) = _within(there[:2], here[:2]), _within(there[2:], here[2:])
    out, down, over = aligned((3, bottom - top, right - left)), here[0] & 1, here[2] & 1
    _cut(rgb, top, left, out)
    blocks_down, blocks_across = _blocks(top, bottom, down), _blocks(left, right, over)
    share, blocks = gather(rgb, (down, over), (*blocks_down, *blocks_across), far, noise)
    sure = sureness(blocks[6], far)
    for begin in range(0, sure.shape[1], RUN):
        end = min(begin + RUN, sure.shape[1])
        first, last = _rows_with_edges(sure, begin, end)
        if first < last:
            part = first, last, begin, end
            first_block = 2 * blocks_down[0] - down, 2 * blocks_across[0] - over
            _bound(rgb, share, blocks, sure, far, part, first_block, (top, left), out)
    return out


@borrowing
def _cut(planes, top, left, out):
    for c in range(3):
        for y in range(out.shape[1]):
            copy(planes[c, top + y, left:], out[c, y])


@inner
def _within(wanted, whole):
    return wanted[0] - whole[0], wanted[1] - whole[0]


@inner
def _blocks(begin, end, phase):
    """From which block to before which one there are pixels."""
    return (begin + phase) // 2, (end + phase + 1) // 2


@borrowing
def _rows_with_edges(sure, begin, end):
    first, last = sure.shape[0], 0
    for y in range(sure.shape[0]):
        if _any(sure[y, begin:end]):
            first, last = min(first, y), y + 1
    return first, last


@inner
def _any(row):
    count = 0
    for x in range(row.size):
        count += row[x] > f32(0)
    return count > 0


@inner
def _bound(rgb, share, blocks, sure, far, part, first_block, first_pixel, out):
    """Bound the colours of a part of the blocks: rows and columns, each from one to another.

    Where in the tile the first block begins comes before the frame's edge may cut it.
    """
    first, last, begin, end = part
    columns, most_columns = end - begin + 2 * far, 2 * (end - begin)
    lines = aligned((2, GATHERED * (columns + 2 * far)))
    greens = most_green(blocks, far, part, lines)
    room = sides_along(blocks, greens, far, first, begin, lines)
    terms, full = aligned((15, end - begin)), aligned((15, most_columns))
    line = lines[0, : GATHERED * columns]
    _bound_rows(
        rgb, share, greens, room, sure, far, part, first_block, first_pixel, line, terms, full, out
    )


@borrowing
def _bound_rows(
    rgb, share, greens, room, sure, far, part, first_block, first_pixel, line, terms, full, out
):
    (first, last, begin, end), (y0, x0), (top, edge) = part, first_block, first_pixel
    columns, size = end - begin + 2 * far, 2 * far + 1
    left, right = max(x0 + 2 * begin, edge), min(x0 + 2 * end, edge + out.shape[2])
    step, odd = most_down(room, size), (left - x0) & 1
    for y in range(first, last):
        certain = sure[y, begin:end]
        if not _any(certain):
            continue
        most_of_rows(room, y - first, size, step, line)
        _terms(line.reshape(GATHERED, columns), greens[y - first + far, far:], certain, terms)
        for k in range(15):
            _double(terms[k], odd, full[k, : right - left])
        for row in range(max(y0 + 2 * y, top), min(y0 + 2 * y + 2, top + out.shape[1])):
            for c in range(0, 3, 2):
                k = 3 * c
                _finish(
                    rgb[c, row, left:right], rgb[1, row, left:], share[row, left + 1 :],
                    full[k], full[k + 1], full[k + 2], full[k + 3], full[k + 4], full[k + 5],
                    full[12], full[13], full[14], out[c, row - top, left - edge : right - edge],
                )  # fmt: skip


@inner
def _terms(found, most, sure, terms):
    """Of a row of blocks the upper and the lower line of red and of blue, each by its slope, its
    start and the slope beyond the light side; then where lines bend, and how sure that is."""
    shade, least, certain = found[8], found[9], terms[14]
    for c in range(2):
        sides, lines = found[4 * c : 4 * c + 4], terms[6 * c : 6 * c + 6]
        _line(sides[0], sides[2], least, f32(1), most, lines[0], lines[1])
        _line(sides[1], sides[3], shade, f32(-1), most, lines[3], lines[4])
        copy(sides[0], lines[2])
        _negate(sides[1], lines[5])
    copy(most, terms[12])
    _negate(least, terms[13])
    for x in range(certain.size):
        known = (found[0, x] > NOTHING) & (found[2, x] > NOTHING)
        certain[x] = sure[x] if known else f32(0)


@inner
def _line(ratio, colour, green, sign, most, slope, start):
    """The line from a dark side's colour at its green to a light one's at the most green; what is
    not to be exceeded downwards comes negated, and so does the other line's green."""
    for x in range(slope.size):
        m, dark = most[x], -sign * green[x]
        steep = sign * fma(ratio[x], m, -colour[x]) / max(m - dark, f32(0.1) * m)
        slope[x] = steep
        start[x] = fma(-steep, dark, sign * colour[x])


@inner
def _negate(row, out):
    for x in range(out.size):
        out[x] = -row[x]


@inner
def _double(row, odd, out):
    """Each value twice, or the first only once where `odd` is 1."""
    pairs = (out.size - odd) // 2
    values, doubled = row[odd : odd + pairs], out[odd:]
    for x in range(u64(values.size)):
        doubled[x + x], doubled[x + x + u64(1)] = values[x], values[x]
    out[0], out[-1] = row[0], row[(out.size - 1 + odd) // 2]


@inner
def _finish(
    own, green, share, rise, start, steep, fall, end, gentle, most, least, certain, out
):
    """A row of red or blue between its lines: the upper one's slope, start and slope beyond the
    light side, then the lower one's; and where they bend."""
    for x in range(out.size):
        g, v, m, part = green[x], own[x], most[x], share[x] * certain[x]
        high, beyond = fma(rise[x], max(g, least[x]), start[x]), steep[x] * g
        low, below = fma(fall[x], g, end[x]), gentle[x] * g
        high, low = high if g < m else beyond, low if g < m else below
        low = low if low < high else high
        out[x] = fma(part, clamp(v, low, high) - v, v) if part > f32(0) else v
