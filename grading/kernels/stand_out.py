"""A plane without its noise: of cosine transforms of 8x8 pixels, what stands out of the noise.

A frequency is judged together with the eight around it: detail mostly has several that are alike,
and noise has not (as in Cai and Silverman, Sankhya B 63:127, 2001, where neighbours in space
decide). So fainter detail is kept than by limits alone, for as little of the noise.
"""

from grading.kernels.cosines import spread
from grading.kernels.eight import BLOCK
from grading.kernels.groups import (
    COUNTS,
    EXCESS,
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
    take_excess,
)
from grading.kernels.primitives import aligned, borrowing, f32, fma, inner, u64

WIDE = GROUP + LANES
"""A row of the energies of a group, and nothing before the next."""

ENERGIES = SCRATCH + LANES

OWN, ENOUGH, MOST = f32(4), f32(5), f32(1.5)
"""How many more times a frequency counts than those about it, what all must have together, as a
multiple of its limit's square, and the most that one counts: so a single strong one, as of a weave,
brings little of the noise about it; ours."""


@inner
def stand_out(plane, limits, rises, excess, place, out, region, top, left):
    """Means of the blocks of a plane, each of what stands out.

    Parameters
    ----------
    limits : ndarray, shape (8, 8), float32
        What a coefficient must exceed by vertical and horizontal frequency, if all about it are as
        large; above 0.
    rises : ndarray, shape (8, 8), float32
        By how much the variance of a frequency rises with the excess; below 1.5, so that what is
        strong is kept whatever is about it.
    excess, place
        From `grading.kernels.excess.exceeding`.
    plane, out, region, top, left
        As in `grading.kernels.cosines.refine`.
    """
    weights, more = aligned((BLOCK * GROUP,)), aligned((BLOCK * GROUP + GROUP,))
    spread(1 / (limits * limits), -2, weights)
    spread(ENOUGH * rises, 0, more)
    for x in range(GROUP):
        more[BLOCK * GROUP + x] = ENOUGH
    for x in range(LANES):
        weights[x], more[x], more[BLOCK * GROUP + x] = f32(0), f32(0), f32(-1)
    for low in range(region[2], region[3], RUN):
        run = region[0], region[1], low, min(low + RUN, region[3])
        _run(plane, weights, more, excess, place, out, run, top, left)


@inner
def _run(plane, weights, more, excess, place, out, run, top, left):
    groups = begin(run, top, left)[3]
    waves, scratch = aligned((BLOCK * groups * GROUP,)), aligned((ENERGIES + BLOCK * WIDE,))
    scratch[:] = f32(0)
    room = room_for(groups)
    _rows(plane, weights, more, excess, place, waves, scratch, room, out, run, top, left)


@borrowing
def _rows(plane, weights, more, excess, place, waves, scratch, room, out, run, top, left):
    first, start, stop, groups = begin(run, top, left)
    before = (left + start) // 2 - place[1]
    for y in range(first, first + BLOCK - 2):
        forward_row(plane[y, start:stop], room[0], waves, y, groups)
    for y in range(first, run[1], 2):
        for later in range(y + BLOCK - 2, y + BLOCK):
            forward_row(plane[later, start:stop], room[0], waves, later, groups)
        exceeding = excess[(top + y) // 2 - place[0], before:]
        for group in range(groups):
            take_excess(exceeding, group, scratch)
            _measure(waves, eight_rows(y, group, groups), weights, scratch)
            _choose(scratch, more)
            gather(scratch, room, y, group)
        finish(room, y, start, groups, run, out)


@inner
def _measure(waves, rows, weights, scratch):
    """The blocks of a group, and their energies over those of the limits."""
    for x in range(u64(GROUP)):
        p0, p1, p2, p3, p4, p5, p6, p7 = forward_at(waves, rows, x)
        keep(scratch, x, p0, p1, p2, p3, p4, p5, p6, p7)
        w0, w1, w2, w3, w4, w5, w6, w7 = eight_of(weights, x)
        e, most = x + u64(ENERGIES), fma(MOST, scratch[x + u64(EXCESS)], MOST)
        scratch[e] = _energy(p0, w0, most)
        scratch[e + u64(WIDE)] = _energy(p1, w1, most)
        scratch[e + u64(2 * WIDE)] = _energy(p2, w2, most)
        scratch[e + u64(3 * WIDE)] = _energy(p3, w3, most)
        scratch[e + u64(4 * WIDE)] = _energy(p4, w4, most)
        scratch[e + u64(5 * WIDE)] = _energy(p5, w5, most)
        scratch[e + u64(6 * WIDE)] = _energy(p6, w6, most)
        scratch[e + u64(7 * WIDE)] = _energy(p7, w7, most)


@inner
def _energy(value, weight, most):
    energy = (value * value) * weight
    return energy if energy < most else most


@inner
def _three(scratch, at):
    """A frequency's energy, and that with those of both horizontal neighbours."""
    own = scratch[at]
    return own, (scratch[at - u64(LANES)] + scratch[at + u64(LANES)]) + own


@inner
def _chosen(value, own, about, least):
    """A value or 0, and whether it is kept, 1 or 0."""
    kept = fma(OWN, own, about) > least
    return value if kept else f32(0), f32(1) if kept else f32(0)


@inner
def _choose(scratch, more):
    """What of the blocks of a group stands out, and how much does."""
    for x in range(u64(GROUP)):
        e, excess = x + u64(ENERGIES), scratch[x + u64(EXCESS)]
        p0, p1, p2, p3, p4, p5, p6, p7 = eight_of(scratch, x)
        m0, m1, m2, m3, m4, m5, m6, m7 = eight_of(more, x)
        e0, s0 = _three(scratch, e)
        e1, s1 = _three(scratch, e + u64(WIDE))
        e2, s2 = _three(scratch, e + u64(2 * WIDE))
        e3, s3 = _three(scratch, e + u64(3 * WIDE))
        e4, s4 = _three(scratch, e + u64(4 * WIDE))
        e5, s5 = _three(scratch, e + u64(5 * WIDE))
        e6, s6 = _three(scratch, e + u64(6 * WIDE))
        e7, s7 = _three(scratch, e + u64(7 * WIDE))
        least = more[x + u64(BLOCK * GROUP)]
        p0, n0 = _chosen(p0, e0, s0 + s1, fma(excess, m0, least))
        p1, n1 = _chosen(p1, e1, (s0 + s2) + s1, fma(excess, m1, ENOUGH))
        p2, n2 = _chosen(p2, e2, (s1 + s3) + s2, fma(excess, m2, ENOUGH))
        p3, n3 = _chosen(p3, e3, (s2 + s4) + s3, fma(excess, m3, ENOUGH))
        p4, n4 = _chosen(p4, e4, (s3 + s5) + s4, fma(excess, m4, ENOUGH))
        p5, n5 = _chosen(p5, e5, (s4 + s6) + s5, fma(excess, m5, ENOUGH))
        p6, n6 = _chosen(p6, e6, (s5 + s7) + s6, fma(excess, m6, ENOUGH))
        p7, n7 = _chosen(p7, e7, s6 + s7, fma(excess, m7, ENOUGH))
        keep(scratch, x, p0, p1, p2, p3, p4, p5, p6, p7)
        scratch[x + u64(COUNTS)] = ((n0 + n1) + (n2 + n3)) + ((n4 + n5) + (n6 + n7))
