"""Planes without their noise: cosine transforms of 8x8 pixels, limited or weighed by the noise.

Blocks of 8x8 pixels in every other row and column are transformed (Ahmed, Natarajan and Rao, IEEE
Trans. Comput. C-23, 1974), lose what is not above the noise of its frequency, and are transformed
back; a pixel is the mean of the 16 blocks that hold it (Coifman and Donoho, "Translation-invariant
de-noising", 1995; Yu and Sapiro, IPOL 2011, 10.5201/ipol.2011.ys-dct). `refine` does it again, and
weighs each frequency by what the first result, the pilot, has of it (an empirical Wiener filter, as
in Ghael, Sayeed and Baraniuk, SPIE 3169, 1997; with cosines in two steps as in Pierazzo, Morel and
Facciolo, IPOL 2017, 10.5201/ipol.2017.201). Blocks with less noise left weigh more (Guleryuz, IEEE
TIP 16:3020, 2007). Even and odd columns are parted, so that all loops run along rows.
"""

from grading.kernels.eight import BLOCK, REACH, back, forward
from grading.kernels.primitives import CACHE_LINE, aligned, f32, fma, inner

WIDEST = CACHE_LINE // 4
"""Values in a register."""

RUN = 1200
"""Columns that are done at a time: those of a tile, for to begin a loop costs more than what falls
out of the first cache."""

@inner
def shrink(plane, limits, out, top, left):
    """Means of the shrunk blocks of a plane, whose margins `eight.mirror` has filled.

    Parameters
    ----------
    plane : ndarray, shape (rows + 2 * REACH, columns + 2 * REACH), float32
    limits : ndarray, shape (8, 8), float32
        What a coefficient must exceed by vertical and horizontal frequency; 0 for the mean.
    out : ndarray, shape (rows, columns), float32
    top, left : int
        Where `out` begins: blocks begin where both are even.
    """
    columns = out.shape[1]
    for low in range(0, columns, RUN):
        high = min(low + RUN, columns)
        _shrink(plane, low, high, limits, out, top, left)


@inner
def refine(plane, pilot, noise, out, top, left):
    """Means of the blocks of a plane, weighed by those of its pilot.

    Parameters
    ----------
    plane, pilot : ndarray, shape (rows + 2 * REACH, columns + 2 * REACH), float32
        Their margins filled by `eight.mirror`.
    noise : ndarray, shape (8, 8), float32
        Variance of the plane's noise by vertical and horizontal frequency, above 0.
    out, top, left
        As in `shrink`.
    """
    columns = out.shape[1]
    for low in range(0, columns, RUN):
        high = min(low + RUN, columns)
        _refine(plane, pilot, low, high, noise, out, top, left)


@inner
def _copy(source, target):
    for x in range(target.size):
        target[x] = source[x]


@inner
def _shrink(plane, low, high, limits, out, top, left):
    first, over = (top + REACH) % 2, (left + low + REACH) % 2
    start, n = low + over, _full((high - low + REACH + 1 - over) // 2)
    parted, waves = aligned((2, n + 3)), aligned((BLOCK, BLOCK, n))
    block, room = aligned((BLOCK, BLOCK, n)), _room(n)
    parted[:] = f32(0)
    for y in range(first, first + BLOCK - 2):
        _forward_row(plane[y, start : high + 2 * REACH], parted, waves[y % BLOCK])
    for y in range(first, plane.shape[0] - REACH, 2):
        for later in range(y + BLOCK - 2, y + BLOCK):
            _forward_row(plane[later, start : high + 2 * REACH], parted, waves[later % BLOCK])
        weight = room[1][y // 2 % 4]
        weight[:] = f32(0)
        _limit(_rows_of(waves, y), limits, weight, _rows_of(block, 0))
        _gathered(block, room, y, over, low, high, out)


@inner
def _refine(plane, pilot, low, high, noise, out, top, left):
    first, over = (top + REACH) % 2, (left + low + REACH) % 2
    start, n = low + over, _full((high - low + REACH + 1 - over) // 2)
    parted, waves, known = (
        aligned((2, n + 3)), aligned((BLOCK, BLOCK, n)), aligned((BLOCK, BLOCK, n)),
    )  # fmt: skip
    block, room = aligned((BLOCK, BLOCK, n)), _room(n)
    parted[:] = f32(0)
    for y in range(first, first + BLOCK - 2):
        _forward_row(plane[y, start : high + 2 * REACH], parted, waves[y % BLOCK])
        _forward_row(pilot[y, start : high + 2 * REACH], parted, known[y % BLOCK])
    for y in range(first, plane.shape[0] - REACH, 2):
        for later in range(y + BLOCK - 2, y + BLOCK):
            _forward_row(plane[later, start : high + 2 * REACH], parted, waves[later % BLOCK])
            _forward_row(pilot[later, start : high + 2 * REACH], parted, known[later % BLOCK])
        weight = room[1][y // 2 % 4]
        weight[:] = f32(0)
        _share(_rows_of(known, y), noise, weight, _rows_of(block, 0))
        _weigh(_flat(waves, y), _flat(block, 0))
        _gathered(block, room, y, over, low, high, out)


@inner
def _full(count):
    """A count of blocks made up to whole registers, since what is left over is done one by one."""
    return (count + WIDEST - 1) // WIDEST * WIDEST


@inner
def _room(n):
    """What blocks make of eight rows, the weights of four rows of blocks, and room for a row's."""
    sums, weights = aligned((BLOCK, BLOCK, n)), aligned((4, n))
    sums[:] = f32(0)
    weights[:] = f32(0)
    return (
        sums, weights, aligned((BLOCK, n)), aligned((BLOCK, n)), aligned((n,)), aligned((2 * n,)),
    )  # fmt: skip


@inner
def _gathered(block, room, y, over, low, high, out):
    """Add the blocks that begin in a row, and finish that row and the next, which get no more."""
    sums, weights, flat, waves, total, line = room
    weight = weights[y // 2 % 4]
    for x in range(weight.size):
        weight[x] = f32(1) / (weight[x] if weight[x] > f32(1) else f32(1))
    for k in range(BLOCK):
        _copy(weight, flat[k])
    _add_blocks(_flat(block, 0), flat.ravel(), _flat(sums, y))
    row = y // 2
    oldest, older, old = weights[(row + 1) % 4], weights[(row + 2) % 4], weights[(row + 3) % 4]
    for x in range(total.size):
        total[x] = (oldest[x] + older[x]) + (old[x] + weight[x])
    for row in range(y, y + 2):
        if 0 <= row - REACH < out.shape[0]:
            _back_row(sums[row % BLOCK], waves)
            _mean_of_blocks(waves, total, line.reshape(total.size, 2))
            _copy(line[1 - over : 1 - over + high - low], out[row - REACH, low:high])
        sums[row % BLOCK] = f32(0)


@inner
def _forward_row(row, parted, out):
    """Of all blocks of a row, which begin in every other column."""
    even, odd = parted[0], parted[1]
    pairs = row[: row.size // 2 * 2].reshape(row.size // 2, 2)
    for x in range(row.size // 2):
        even[x], odd[x] = pairs[x, 0], pairs[x, 1]
    a, c, e, h = even, even[1:], even[2:], even[3:]
    b, d, g, i = odd, odd[1:], odd[2:], odd[3:]
    o0, o1, o2, o3, o4, o5, o6, o7 = _eight(out)
    for x in range(o0.size):
        o0[x], o1[x], o2[x], o3[x], o4[x], o5[x], o6[x], o7[x] = forward(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )


@inner
def _rows_of(ring, y):
    """The rows of a ring of eight, from one on, each with all horizontal frequencies."""
    return (
        ring[y % 8], ring[(y + 1) % 8], ring[(y + 2) % 8], ring[(y + 3) % 8],
        ring[(y + 4) % 8], ring[(y + 5) % 8], ring[(y + 6) % 8], ring[(y + 7) % 8],
    )  # fmt: skip


@inner
def _flat(ring, y):
    """The same, each row as one run for loops to which all frequencies are alike."""
    a, b, c, d, e, g, h, i = _rows_of(ring, y)
    return (
        a.ravel(), b.ravel(), c.ravel(), d.ravel(), e.ravel(), g.ravel(), h.ravel(), i.ravel(),
    )  # fmt: skip


@inner
def _eight(values):
    return (
        values[0], values[1], values[2], values[3], values[4], values[5], values[6], values[7],
    )  # fmt: skip


@inner
def _limited(value, limit):
    return value if abs(value) > limit else f32(0)


@inner
def _is_kept(value):
    return f32(1) if value != f32(0) else f32(0)


@inner
def _limit(rows, limits, count, out):
    """What of all blocks of a row is above its limit, by vertical frequency, and how much is."""
    a, b, c, d, e, g, h, i = rows
    o0, o1, o2, o3, o4, o5, o6, o7 = out
    for k in range(BLOCK):
        l0, l1, l2, l3, l4, l5, l6, l7 = _eight(limits[:, k])
        for x in range(count.size):
            p0, p1, p2, p3, p4, p5, p6, p7 = forward(
                a[k, x], b[k, x], c[k, x], d[k, x], e[k, x], g[k, x], h[k, x], i[k, x]
            )
            p0, p1, p2, p3 = _limited(p0, l0), _limited(p1, l1), _limited(p2, l2), _limited(p3, l3)
            p4, p5, p6, p7 = _limited(p4, l4), _limited(p5, l5), _limited(p6, l6), _limited(p7, l7)
            first = (_is_kept(p0) + _is_kept(p1)) + (_is_kept(p2) + _is_kept(p3))
            second = (_is_kept(p4) + _is_kept(p5)) + (_is_kept(p6) + _is_kept(p7))
            count[x] = count[x] + (first + second)
            o0[k, x], o1[k, x], o2[k, x], o3[k, x] = p0, p1, p2, p3
            o4[k, x], o5[k, x], o6[k, x], o7[k, x] = p4, p5, p6, p7


@inner
def _shares(first, second, noise, other):
    """What of two frequencies is signal, by their pilots; one division for both."""
    p, q = first * first, second * second
    d, e = p + noise, q + other
    inverse = f32(1) / (d * e)
    return p * (e * inverse), q * (d * inverse)


@inner
def _share(rows, noise, energy, out):
    """Shares of all frequencies of a row's blocks by their pilots; all of the mean is kept."""
    a, b, c, d, e, g, h, i = rows
    o0, o1, o2, o3, o4, o5, o6, o7 = out
    for k in range(BLOCK):
        n0, n1, n2, n3, n4, n5, n6, n7 = _eight(noise[:, k])
        least = f32(1) if k == 0 else f32(0)
        for x in range(energy.size):
            s0, s1, s2, s3, s4, s5, s6, s7 = forward(
                a[k, x], b[k, x], c[k, x], d[k, x], e[k, x], g[k, x], h[k, x], i[k, x]
            )
            (s0, s1), (s2, s3) = _shares(s0, s1, n0, n1), _shares(s2, s3, n2, n3)
            (s4, s5), (s6, s7) = _shares(s4, s5, n4, n5), _shares(s6, s7, n6, n7)
            s0 = s0 if s0 > least else least
            first = fma(s3, s3, fma(s2, s2, fma(s1, s1, s0 * s0)))
            second = fma(s7, s7, fma(s6, s6, fma(s5, s5, s4 * s4)))
            energy[x] = energy[x] + (first + second)
            o0[k, x], o1[k, x], o2[k, x], o3[k, x] = s0, s1, s2, s3
            o4[k, x], o5[k, x], o6[k, x], o7[k, x] = s4, s5, s6, s7


@inner
def _weigh(rows, out):
    """In place of the shares, in a loop of its own: more streams would not be vectorised."""
    a, b, c, d, e, g, h, i = rows
    o0, o1, o2, o3, o4, o5, o6, o7 = out
    for x in range(o0.size):
        p0, p1, p2, p3, p4, p5, p6, p7 = forward(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )
        o0[x], o1[x], o2[x], o3[x] = p0 * o0[x], p1 * o1[x], p2 * o2[x], p3 * o3[x]
        o4[x], o5[x], o6[x], o7[x] = p4 * o4[x], p5 * o5[x], p6 * o6[x], p7 * o7[x]


@inner
def _add_blocks(rows, weight, sums):
    a, b, c, d, e, g, h, i = rows
    s0, s1, s2, s3, s4, s5, s6, s7 = sums
    for x in range(weight.size):
        w = weight[x]
        p0, p1, p2, p3, p4, p5, p6, p7 = back(a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x])
        s0[x], s1[x] = fma(w, p0, s0[x]), fma(w, p1, s1[x])
        s2[x], s3[x] = fma(w, p2, s2[x]), fma(w, p3, s3[x])
        s4[x], s5[x] = fma(w, p4, s4[x]), fma(w, p5, s5[x])
        s6[x], s7[x] = fma(w, p6, s6[x]), fma(w, p7, s7[x])


@inner
def _back_row(waves, out):
    a, b, c, d, e, g, h, i = _eight(waves)
    o0, o1, o2, o3, o4, o5, o6, o7 = _eight(out)
    for x in range(o0.size):
        o0[x], o1[x], o2[x], o3[x], o4[x], o5[x], o6[x], o7[x] = back(
            a[x], b[x], c[x], d[x], e[x], g[x], h[x], i[x]
        )


@inner
def _mean_of_blocks(values, weights, pairs):
    """What the four blocks that hold a column make of it, by their weights, two columns at once."""
    a, b, c, d = values[6], values[4][1:], values[2][2:], values[0][3:]
    e, g, h, i = values[7], values[5][1:], values[3][2:], values[1][3:]
    p, q, r, s = weights, weights[1:], weights[2:], weights[3:]
    for x in range(s.size):
        inverse = f32(1) / ((p[x] + q[x]) + (r[x] + s[x]))
        pairs[x, 0] = ((a[x] + b[x]) + (c[x] + d[x])) * inverse
        pairs[x, 1] = ((e[x] + g[x]) + (h[x] + i[x])) * inverse
