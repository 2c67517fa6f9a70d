"""A plane without its noise: cosine transforms of 8x8 pixels, weighed by the noise.

Blocks of 8x8 pixels in every other row and column are transformed (Ahmed, Natarajan and Rao, IEEE
Trans. Comput. C-23, 1974), lose what is not above the noise of its frequency, and are transformed
back; a pixel is the mean of the 16 blocks that hold it (Coifman and Donoho, "Translation-invariant
de-noising", 1995; Yu and Sapiro, IPOL 2011, 10.5201/ipol.2011.ys-dct). `stand_out` does so for
luminance and `piloted` for colours. `refine` does it again, and weighs each frequency by what the
first result, the pilot, has of it (an empirical Wiener filter, as in Ghael, Sayeed and Baraniuk,
SPIE 3169, 1997; with cosines in two steps as in Pierazzo, Morel and Facciolo, IPOL 2017,
10.5201/ipol.2017.201). Blocks with less noise left weigh more (Guleryuz, IEEE TIP 16:3020, 2007).
`groups` has the loops that all share.
"""

from grading.kernels.eight import BLOCK, SCALES
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

RISES = COUNTS + GROUP
"""Where in what `refine` knows of noise, after its variances and what is kept at least, the rises
begin."""

HIGHEST = f32(1e8)
"""Square of a frequency from which it is wholly signal: four such may still be multiplied."""


@inner
def refine(plane, pilot, noise, rises, excess, place, out, region, top, left):
    """Means of the blocks of a plane, weighed by those of its pilot.

    Parameters
    ----------
    plane, pilot : ndarray, shape (rows, columns), float32
        With margins of `REACH` pixels about the region.
    noise : ndarray, shape (8, 8), float32
        Variance of the plane's noise by vertical and horizontal frequency, above 0.
    rises : ndarray, shape (8, 8), float32
        By how much that rises with the excess, as a share of it.
    excess, place
        From `grading.kernels.excess.exceeding`.
    out : ndarray, shape (rows, columns), float32
        Is written in the region.
    region : tuple of int
        First row, row after the last, first column and column after the last.
    top, left : int
        Where in the frame the plane begins: blocks begin where both are even.
    """
    by_group = aligned((2 * BLOCK * GROUP + GROUP,))
    spread(noise, 2, by_group)
    spread(noise * rises, 2, by_group[RISES:])
    for x in range(GROUP):
        by_group[COUNTS + x] = f32(1) if x < LANES else f32(0)
    for low in range(region[2], region[3], RUN):
        run = region[0], region[1], low, min(low + RUN, region[3])
        _refine(plane, pilot, by_group, excess, place, out, run, top, left)


@inner
def spread(values, power, out):
    """A value for each frequency, that of `forward` to a power, as often as a group has blocks."""
    for v in range(BLOCK):
        for k in range(BLOCK):
            value = values[v, k] / (SCALES[v] * SCALES[k]) ** power
            for x in range(LANES):
                out[v * GROUP + k * LANES + x] = value


@inner
def _refine(plane, pilot, noise, excess, place, out, run, top, left):
    groups = begin(run, top, left)[3]
    waves, known = aligned((BLOCK * groups * GROUP,)), aligned((BLOCK * groups * GROUP,))
    scratch, room = aligned((SCRATCH,)), room_for(groups)
    _rows(plane, pilot, waves, known, noise, excess, place, scratch, room, out, run, top, left)


@borrowing
def _rows(plane, pilot, waves, known, noise, excess, place, scratch, room, out, run, top, left):
    first, start, stop, groups = begin(run, top, left)
    before = (left + start) // 2 - place[1]
    for y in range(first, first + BLOCK - 2):
        forward_row(plane[y, start:stop], room[0], waves, y, groups)
        forward_row(pilot[y, start:stop], room[0], known, y, groups)
    for y in range(first, run[1], 2):
        for later in range(y + BLOCK - 2, y + BLOCK):
            forward_row(plane[later, start:stop], room[0], waves, later, groups)
            forward_row(pilot[later, start:stop], room[0], known, later, groups)
        exceeding = excess[(top + y) // 2 - place[0], before:]
        for group in range(groups):
            take_excess(exceeding, group, scratch)
            rows = eight_rows(y, group, groups)
            _weigh(waves, known, rows, noise, scratch)
            gather(scratch, room, y, group)
        finish(room, y, start, groups, run, out)


@inner
def shares(p0, p1, p2, p3, n0, n1, n2, n3):
    """What of four frequencies is signal, by their pilots; one division for all."""
    p0, p1, p2, p3 = _energy(p0), _energy(p1), _energy(p2), _energy(p3)
    d0, d1, d2, d3 = p0 + n0, p1 + n1, p2 + n2, p3 + n3
    low, high = d0 * d1, d2 * d3
    inverse = f32(1) / (low * high)
    low, high = high * inverse, low * inverse
    return (p0 * d1) * low, (p1 * d0) * low, (p2 * d3) * high, (p3 * d2) * high


@inner
def _energy(value):
    value = value * value
    return value if value < HIGHEST else HIGHEST


@inner
def _risen(noise, x, excess):
    """Variances of eight frequencies."""
    n0, n1, n2, n3, n4, n5, n6, n7 = eight_of(noise, x)
    r0, r1, r2, r3, r4, r5, r6, r7 = eight_of(noise, x + u64(RISES))
    return (
        fma(excess, r0, n0), fma(excess, r1, n1), fma(excess, r2, n2), fma(excess, r3, n3),
        fma(excess, r4, n4), fma(excess, r5, n5), fma(excess, r6, n6), fma(excess, r7, n7),
    )  # fmt: skip


@inner
def _weigh(waves, known, rows, noise, scratch):
    """The blocks of a group by their pilots' shares of each frequency; all of the mean is kept."""
    for x in range(u64(GROUP)):
        s0, s1, s2, s3, s4, s5, s6, s7 = forward_at(known, rows, x)
        n0, n1, n2, n3, n4, n5, n6, n7 = _risen(noise, x, scratch[x + u64(EXCESS)])
        s0, s1, s2, s3 = shares(s0, s1, s2, s3, n0, n1, n2, n3)
        s4, s5, s6, s7 = shares(s4, s5, s6, s7, n4, n5, n6, n7)
        least = noise[x + u64(COUNTS)]
        s0 = s0 if s0 > least else least
        p0, p1, p2, p3, p4, p5, p6, p7 = forward_at(waves, rows, x)
        keep(scratch, x, p0 * s0, p1 * s1, p2 * s2, p3 * s3, p4 * s4, p5 * s5, p6 * s6, p7 * s7)
        first = fma(s3, s3, fma(s2, s2, fma(s1, s1, s0 * s0)))
        second = fma(s7, s7, fma(s6, s6, fma(s5, s5, s4 * s4)))
        scratch[x + u64(COUNTS)] = first + second
