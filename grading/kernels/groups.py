"""Rows of blocks of 8x8 pixels, in every other column: forth, back, and to means of pixels.

Even and odd columns are parted, so that all loops run along rows. A row of blocks is taken in
groups: what one needs between its loops stays in the first cache. A group has a horizontal
frequency of all its blocks, then the next. What a loop writes lies in one piece of memory, at
distances known to the compiler, which then has little to compare before it begins.
"""

from grading.kernels.eight import BLOCK, GAIN, REACH, back, forward
from grading.kernels.primitives import aligned, f32, fma, inner, u64

LANES = 32
"""Blocks of a group."""

GROUP = BLOCK * LANES

RUN = 1200
"""Columns that are done at a time, those of a tile."""

MOST = (RUN // 2 + BLOCK + LANES - 1) // LANES * LANES
"""Blocks that a row of a run may have, whole groups."""

ODD = MOST + 16
"""Where odd columns begin, after the even ones."""

COUNTS, DONE, EXCESS = BLOCK * GROUP, (BLOCK + 1) * GROUP, (BLOCK + 3) * GROUP
SCRATCH = (BLOCK + 4) * GROUP
"""In what a group needs between its loops, after its blocks: what they have, by horizontal
frequency, then their weights; two rows that are done; what exceeds their noise; and its size."""

SUMS = (BLOCK - 2) * GROUP
"""Values of the rows of a group that get more blocks."""


@inner
def begin(run, top, left):
    """First row and column of blocks, the column after the last, and how many groups that is."""
    above, before = run[0] - REACH, run[2] - REACH
    first, start, stop = above + (top + above) % 2, before + (left + before) % 2, run[3] + REACH
    blocks = (stop - REACH + 1 - start) // 2
    return first, start, stop, (blocks + LANES - 1) // LANES


@inner
def room_for(groups):
    """Even and odd columns, what blocks make of six rows, their weights, and room for two rows."""
    parted, sums = aligned((2 * ODD,)), aligned((groups * SUMS,))
    parted[:] = f32(0)
    sums[:] = f32(0)
    weights = aligned((4 * MOST,))
    weights[:] = f32(0)
    values, inverse, line = aligned((2 * BLOCK * MOST,)), aligned((MOST,)), aligned((2 * MOST,))
    return parted, sums, weights, values, inverse, line


@inner
def eight_rows(y, group, groups):
    """Where eight rows' values for a group begin, in a ring of as many."""
    length, at = groups * GROUP, group * GROUP
    return (
        u64(y % 8 * length + at), u64((y + 1) % 8 * length + at),
        u64((y + 2) % 8 * length + at), u64((y + 3) % 8 * length + at),
        u64((y + 4) % 8 * length + at), u64((y + 5) % 8 * length + at),
        u64((y + 6) % 8 * length + at), u64((y + 7) % 8 * length + at),
    )  # fmt: skip


@inner
def forward_row(row, parted, out, y, groups):
    """Of all blocks of a row, which begin in every other column."""
    for x in range(u64(row.size // 2)):
        parted[x], parted[x + u64(ODD)] = row[x + x], row[x + x + u64(1)]
    for group in range(groups):
        _forward_group(parted, u64(group * LANES), out, u64((y % 8 * groups + group) * GROUP))


@inner
def _forward_group(parted, at, out, to):
    for x in range(u64(LANES)):
        a, o = x + at, x + to
        p0, p1, p2, p3, p4, p5, p6, p7 = forward(
            parted[a], parted[a + u64(ODD)], parted[a + u64(1)], parted[a + u64(ODD + 1)],
            parted[a + u64(2)], parted[a + u64(ODD + 2)], parted[a + u64(3)],
            parted[a + u64(ODD + 3)],
        )  # fmt: skip
        out[o], out[o + u64(LANES)], out[o + u64(2 * LANES)] = p0, p1, p2
        out[o + u64(3 * LANES)], out[o + u64(4 * LANES)], out[o + u64(5 * LANES)] = p3, p4, p5
        out[o + u64(6 * LANES)], out[o + u64(7 * LANES)] = p6, p7


@inner
def forward_at(waves, rows, x):
    a, b, c, d, e, g, h, i = rows
    return forward(
        waves[a + x], waves[b + x], waves[c + x], waves[d + x],
        waves[e + x], waves[g + x], waves[h + x], waves[i + x],
    )  # fmt: skip


@inner
def eight_of(values, x):
    """Values of a group at the same place of its eight rows."""
    return (
        values[x], values[x + u64(GROUP)], values[x + u64(2 * GROUP)], values[x + u64(3 * GROUP)],
        values[x + u64(4 * GROUP)], values[x + u64(5 * GROUP)], values[x + u64(6 * GROUP)],
        values[x + u64(7 * GROUP)],
    )  # fmt: skip


@inner
def keep(out, x, p0, p1, p2, p3, p4, p5, p6, p7):
    out[x], out[x + u64(GROUP)], out[x + u64(2 * GROUP)] = p0, p1, p2
    out[x + u64(3 * GROUP)], out[x + u64(4 * GROUP)], out[x + u64(5 * GROUP)] = p3, p4, p5
    out[x + u64(6 * GROUP)], out[x + u64(7 * GROUP)] = p6, p7


@inner
def take_excess(row, group, scratch):
    """What exceeds the noise of a group's blocks, the same for all their frequencies."""
    at = u64(group * LANES)
    for x in range(u64(LANES)):
        e, value = x + u64(EXCESS), row[x + at]
        scratch[e], scratch[e + u64(LANES)], scratch[e + u64(2 * LANES)] = value, value, value
        scratch[e + u64(3 * LANES)], scratch[e + u64(4 * LANES)] = value, value
        scratch[e + u64(5 * LANES)], scratch[e + u64(6 * LANES)] = value, value
        scratch[e + u64(7 * LANES)] = value


@inner
def gather(scratch, room, y, group):
    """Add the blocks of a group to their rows, of which the first two get no more."""
    _, sums, weights, values, _, _ = room
    _weights(scratch, weights, u64(y // 2 % 4 * MOST + group * LANES))
    _add_blocks(scratch, sums, u64(group * SUMS))
    for row in range(2):
        to = u64(row * BLOCK * MOST + group * LANES)
        _back_group(scratch, u64(DONE + row * GROUP), values, to)


@inner
def _weights(scratch, weights, at):
    """The weight of each block of a group, and the same for all its frequencies."""
    for x in range(u64(LANES)):
        c = x + u64(COUNTS)
        first = (scratch[c] + scratch[c + u64(LANES)]) + (
            scratch[c + u64(2 * LANES)] + scratch[c + u64(3 * LANES)]
        )
        second = (scratch[c + u64(4 * LANES)] + scratch[c + u64(5 * LANES)]) + (
            scratch[c + u64(6 * LANES)] + scratch[c + u64(7 * LANES)]
        )
        weight = first + second
        weight = f32(1) / (weight if weight > f32(1) else f32(1))
        weights[at + x] = weight
        scratch[c], scratch[c + u64(LANES)], scratch[c + u64(2 * LANES)] = weight, weight, weight
        scratch[c + u64(3 * LANES)], scratch[c + u64(4 * LANES)] = weight, weight
        scratch[c + u64(5 * LANES)], scratch[c + u64(6 * LANES)] = weight, weight
        scratch[c + u64(7 * LANES)] = weight


@inner
def _add_blocks(scratch, sums, at):
    """Blocks, weighted, onto the rows before; those that are done go, and the rest move up."""
    for x in range(u64(GROUP)):
        a, b, c, d, e, g, h, i = eight_of(scratch, x)
        p0, p1, p2, p3, p4, p5, p6, p7 = back(a, b, c, d, e, g, h, i)
        w, s = scratch[x + u64(COUNTS)], at + x
        s1, s2, s3 = s + u64(GROUP), s + u64(2 * GROUP), s + u64(3 * GROUP)
        s4, s5 = s + u64(4 * GROUP), s + u64(5 * GROUP)
        scratch[x + u64(DONE)] = fma(w, p0, sums[s])
        scratch[x + u64(DONE + GROUP)] = fma(w, p1, sums[s1])
        p2, p3 = fma(w, p2, sums[s2]), fma(w, p3, sums[s3])
        p4, p5 = fma(w, p4, sums[s4]), fma(w, p5, sums[s5])
        sums[s], sums[s1], sums[s2], sums[s3] = p2, p3, p4, p5
        sums[s4], sums[s5] = w * p6, w * p7


@inner
def _back_group(waves, at, out, to):
    for x in range(u64(LANES)):
        a, o = x + at, x + to
        p0, p1, p2, p3, p4, p5, p6, p7 = back(
            waves[a], waves[a + u64(LANES)], waves[a + u64(2 * LANES)], waves[a + u64(3 * LANES)],
            waves[a + u64(4 * LANES)], waves[a + u64(5 * LANES)], waves[a + u64(6 * LANES)],
            waves[a + u64(7 * LANES)],
        )  # fmt: skip
        out[o], out[o + u64(MOST)], out[o + u64(2 * MOST)], out[o + u64(3 * MOST)] = p0, p1, p2, p3
        out[o + u64(4 * MOST)], out[o + u64(5 * MOST)] = p4, p5
        out[o + u64(6 * MOST)], out[o + u64(7 * MOST)] = p6, p7


@inner
def finish(room, y, start, groups, run, out):
    """The two rows that are done, as means; their first pair of columns is the fourth."""
    _, _, weights, values, inverse, line = room
    low, high, count = run[2], run[3], u64(groups * LANES - 3)
    _invert(weights, y // 2, count, inverse)
    for k in range(2):
        if run[0] <= y + k < run[1]:
            _mean_of_blocks(values, u64(k * BLOCK * MOST), inverse, count, line)
            _copy(line[low - start - REACH + 1 :], out[y + k, low:high])


@inner
def _invert(weights, row, count, out):
    """One over the weights of all blocks that hold a pair of columns."""
    oldest, older = u64((row + 1) % 4 * MOST), u64((row + 2) % 4 * MOST)
    old, own = u64((row + 3) % 4 * MOST), u64(row % 4 * MOST)
    for x in range(count + u64(3)):
        out[x] = (weights[oldest + x] + weights[older + x]) + (weights[old + x] + weights[own + x])
    for x in range(count):
        total = (out[x] + out[x + u64(1)]) + (out[x + u64(2)] + out[x + u64(3)])
        out[x] = f32(1 / GAIN**2) / total


@inner
def _mean_of_blocks(values, at, inverse, count, line):
    """What the four blocks that hold a column make of it, by their weights, two columns at once."""
    for x in range(count):
        v, share = x + at, inverse[x]
        first = (values[v + u64(6 * MOST)] + values[v + u64(4 * MOST + 1)]) + (
            values[v + u64(2 * MOST + 2)] + values[v + u64(3)]
        )
        second = (values[v + u64(7 * MOST)] + values[v + u64(5 * MOST + 1)]) + (
            values[v + u64(3 * MOST + 2)] + values[v + u64(MOST + 3)]
        )
        line[x + x], line[x + x + u64(1)] = first * share, second * share


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]
