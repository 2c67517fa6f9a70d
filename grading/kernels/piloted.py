"""Planes without their noise, in one pass of cosine transforms, by pilots that have less of it.

As in `cosines`, blocks of 8x8 pixels lose what is noise of their frequency. What may be signal is
told from the pilot, which must exceed a limit there; how much of the plane is kept, too: an
empirical Wiener filter (Ghael, Sayeed and Baraniuk, SPIE 3169, 1997).
"""

from grading.kernels.cosines import shares, spread
from grading.kernels.eight import BLOCK
from grading.kernels.groups import (
    COUNTS,
    GROUP,
    LANES,
    RUN,
    SCRATCH,
    begin,
    eight_of,
    eight_rows,
    finish,
    forward_at,
    forward_row,
    gather,
    keep,
    room_for,
)
from grading.kernels.primitives import aligned, borrowing, f32, fma, inner, u64


@inner
def shrink_by_pilot(plane, pilot, limits, noise, out, region, top, left):
    """Means of the blocks of a plane, weighed by those of its pilot.

    Parameters
    ----------
    plane, pilot : ndarray, shape (rows, columns), float32
        With margins of `REACH` pixels about the region.
    limits : ndarray, shape (8, 8), float32
        What a coefficient of the pilot must exceed by vertical and horizontal frequency; all of the
        mean is kept.
    noise : ndarray, shape (8, 8), float32
        Variance of the plane's noise likewise, above 0.
    out : ndarray, shape (rows, columns), float32
        Is written in the region.
    region : tuple of int
        First row, row after the last, first column and column after the last.
    top, left : int
        Where in the frame the plane begins: blocks begin where both are even.
    """
    least, variances = aligned((BLOCK * GROUP,)), aligned((BLOCK * GROUP + GROUP,))
    spread(limits, 1, least)
    spread(noise, 2, variances)
    for x in range(GROUP):
        variances[BLOCK * GROUP + x] = f32(1) if x < LANES else f32(0)
    for low in range(region[2], region[3], RUN):
        run = region[0], region[1], low, min(low + RUN, region[3])
        _shrink(plane, pilot, least, variances, out, run, top, left)


@inner
def _shrink(plane, pilot, least, variances, out, run, top, left):
    groups = begin(run, top, left)[3]
    waves, known = aligned((BLOCK * groups * GROUP,)), aligned((BLOCK * groups * GROUP,))
    scratch, room = aligned((SCRATCH,)), room_for(groups)
    _rows(plane, pilot, waves, known, least, variances, scratch, room, out, run, top, left)


@borrowing
def _rows(plane, pilot, waves, known, least, variances, scratch, room, out, run, top, left):
    first, start, stop, groups = begin(run, top, left)
    for y in range(first, first + BLOCK - 2):
        forward_row(plane[y, start:stop], room[0], waves, y, groups)
        forward_row(pilot[y, start:stop], room[0], known, y, groups)
    for y in range(first, run[1], 2):
        for later in range(y + BLOCK - 2, y + BLOCK):
            forward_row(plane[later, start:stop], room[0], waves, later, groups)
            forward_row(pilot[later, start:stop], room[0], known, later, groups)
        for group in range(groups):
            rows = eight_rows(y, group, groups)
            _share_of_pilot(known, rows, least, variances, scratch)
            _weigh(waves, rows, scratch)
            gather(scratch, room, y, group)
        finish(room, y, start, groups, run, out)


@inner
def _beyond(value, limit, share):
    """A share, 0 of what is within its limit."""
    return share if abs(value) > limit else f32(0)


@inner
def _share_of_pilot(known, rows, least, variances, scratch):
    """What of each frequency is signal."""
    for x in range(u64(GROUP)):
        p0, p1, p2, p3, p4, p5, p6, p7 = forward_at(known, rows, x)
        n0, n1, n2, n3, n4, n5, n6, n7 = eight_of(variances, x)
        l0, l1, l2, l3, l4, l5, l6, l7 = eight_of(least, x)
        s0, s1, s2, s3 = shares(p0, p1, p2, p3, n0, n1, n2, n3)
        s4, s5, s6, s7 = shares(p4, p5, p6, p7, n4, n5, n6, n7)
        s0, s1, s2 = _beyond(p0, l0, s0), _beyond(p1, l1, s1), _beyond(p2, l2, s2)
        s3, s4, s5 = _beyond(p3, l3, s3), _beyond(p4, l4, s4), _beyond(p5, l5, s5)
        s6, s7 = _beyond(p6, l6, s6), _beyond(p7, l7, s7)
        mean = variances[x + u64(COUNTS)]
        keep(scratch, x, s0 if s0 > mean else mean, s1, s2, s3, s4, s5, s6, s7)


@inner
def _weigh(waves, rows, scratch):
    """What is kept of the blocks of a group, by the shares that are there, and the noise left."""
    for x in range(u64(GROUP)):
        s0, s1, s2, s3, s4, s5, s6, s7 = eight_of(scratch, x)
        p0, p1, p2, p3, p4, p5, p6, p7 = forward_at(waves, rows, x)
        keep(scratch, x, p0 * s0, p1 * s1, p2 * s2, p3 * s3, p4 * s4, p5 * s5, p6 * s6, p7 * s7)
        first = fma(s3, s3, fma(s2, s2, fma(s1, s1, s0 * s0)))
        second = fma(s7, s7, fma(s6, s6, fma(s5, s5, s4 * s4)))
        scratch[x + u64(COUNTS)] = first + second
