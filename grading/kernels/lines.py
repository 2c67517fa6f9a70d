"""Planes of light sampled where a map says: down the columns first, and then along the rows.

A map that turns, shifts and bends gently is exact in two passes (Catmull and Smith, Computer
Graphics 14(3):279, 1980). Places are given at nodes, every `STEP` pixels along the rows and down
the columns, and run straight from node to node. Between two pixels light is that of Lanczos's
window of three lobes, held to what its nearest pixels allow.

Both passes take `LANES` pixels of a row at a time. A pass down the columns needs, for each of them,
pixels of one column, but not always of the same rows; one along the rows needs pixels side by side,
but for some one further. So each lane chooses from what a few loads bring.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from grading.kernels.lanes import (
    LANES,
    alike,
    fetch,
    floor,
    fused,
    gathered,
    greater,
    inlined,
    lesser,
    load,
    numbered,
    store,
    where_at_least,
)
from grading.kernels.primitives import aligned, compiled, f32, fma, inner, u64

STEP = LANES
"""Pixels, and rows, from one node to the next."""

LOBES = 3
COEFFICIENTS = 6

PEAK = f32(0.25)
"""How far light may rise above its two nearest pixels, as a share of how far both lie above the
pixels beyond them. A crest of a quarter of a cycle a pixel needs 0.21; beside an edge it is 0."""

AHEAD = 2
FEW = 8
"""Up to so many places apart, pixels are chosen from whole loads, beyond one by one; the bits are
the same."""


def lanczos(distance: np.ndarray) -> np.ndarray:
    """Lanczos's window (Duchon, J. Appl. Meteorol. 18:1016, 1979).

    >>> lanczos(np.array([0.0, 0.5, 1.5])).round(4).tolist()
    [1.0, 0.6079, -0.1351]
    """
    inside = np.abs(distance) < LOBES
    return np.where(inside, np.sinc(distance) * np.sinc(distance / LOBES), 0)


@lru_cache(maxsize=8)
def polynomials(scale: float) -> np.ndarray:
    """The weights of pixels about a place as polynomials in the way from the middle of two pixels.

    They meet `lanczos`, made to sum to one, at the extrema of a Chebyshev polynomial.

    Parameters
    ----------
    scale : float
        Pixels for one that is made. Above 1 the window is wider by as much.

    Returns
    -------
    ndarray, shape (n, 6), float32
        Of the first half of 2 n pixels, which the other half mirrors; coefficients that rise in
        order.

    Examples
    --------
    >>> polynomials(1.0)[:, 0].round(4).tolist()  # half way between two pixels
    [0.0245, -0.1359, 0.6114]
    """
    scale = max(scale, 1)
    half = int(np.ceil(LOBES * scale))
    way = (1 - np.cos(np.pi * np.arange(COEFFICIENTS) / (COEFFICIENTS - 1))) / 2
    weights = lanczos((np.arange(2 * half)[:, None] - (half - 1) - way) / scale)
    weights /= weights.sum(axis=0)
    powers = np.vander(way - 0.5, increasing=True)
    return np.linalg.solve(powers, weights.T).T[:half].astype(np.float32, order="C")


def sample_planes(
    light: np.ndarray,
    size: tuple[int, int],
    nodes: tuple[np.ndarray, np.ndarray],
    weights: tuple[np.ndarray, np.ndarray],
    corner: tuple[int, int],
    out: np.ndarray,
) -> None:
    """Sample a piece of what a map makes of planes of light.

    Parameters
    ----------
    light : ndarray, shape (3, room, width), float32
        Row y lies in row ``y % room``; what is needed is there. The width is a multiple of `LANES`.
    size : (int, int)
        Rows and columns that there are. Beyond them light goes on as it ends.
    nodes : (ndarray, ndarray), each of shape (m, k), float64
        Entry i, j of the first is the row of light in which row ``STEP * i`` of what is made meets
        column ``STEP * j`` of light. That of the second is the column of light in which pixel
        ``STEP * j`` of that row lies, less ``STEP * j``. Places rise down the columns and along
        the rows.
    weights : (ndarray, ndarray)
        From `polynomials`, of pixels below each other and beside each other.
    corner : (int, int)
        Row and column of the piece in what is made; the latter a multiple of `STEP`.
    out : ndarray, shape (3, rows, columns), float32
        The piece. Is written to.
    """
    _sample_planes(light, *size, *nodes, *weights, *corner, out)


@compiled
def _sample_planes(light, rows, columns, down, across, weigh_down, weigh_across, top, left, out):
    bottom, count = top + out.shape[1], -(-out.shape[2] // STEP)
    i, half = left // STEP, weigh_across.shape[0]
    first = left + _extent(across, top, bottom, i, i)[0] - half
    last = left + STEP * count + _extent(across, top, bottom, i + count, i + count)[1] + half + 1
    begin = min(max(first, 0), columns - 1) // STEP
    end = max(-(-min(last, columns) // STEP), begin + 1)
    first = min(first, STEP * begin)
    apart = max(last, STEP * end) - first
    line, made = aligned((3 * apart,)), aligned((3 * STEP * count,))

    low, high = _extent(down, top, bottom, begin, end)
    low, high = low - weigh_down.shape[0], high + weigh_down.shape[0] + 1
    above = np.array([min(max(y, 0), rows - 1) % light.shape[1] for y in range(low, high + 1 + AHEAD)])
    above = (above * light.shape[2] + STEP * begin).astype(np.uint64)
    least, most = _extent(across, top, bottom, i, i + count)
    least, most = least - half, most + half + 1
    beside = np.arange(left - first + least, left - first + most + 1 + AHEAD).astype(np.uint64)

    source, plane = light.ravel(), u64(light.shape[1] * light.shape[2])
    for y in range(top, bottom):
        _row(
            source, plane, above, low, weigh_down, down, y, begin, end - begin,
            line, STEP * begin - first, apart,
        )  # fmt: skip
        _extend(line, apart, -first, columns - first)
        _row(
            line, u64(apart), beside, least, weigh_across, across, y, i, count,
            made, 0, STEP * count,
        )  # fmt: skip
        for c in range(3):
            _copy(made[STEP * count * c :], out[c, y - top])


@inner
def _extent(nodes, top, bottom, begin, end):
    """The whole numbers below the least and the greatest of what rows and nodes have."""
    least = most = nodes[top // STEP, begin]
    for i in range(top // STEP, (bottom - 1) // STEP + 2):
        for j in range(begin, end + 1):
            least, most = min(least, nodes[i, j]), max(most, nodes[i, j])
    return np.int64(np.floor(least)), np.int64(np.floor(most))


@inner
def _extend(line, apart, first, after):
    """Beyond its ends a line goes on as it ends."""
    for c in range(3):
        one = line[c * apart : (c + 1) * apart]
        for x in range(min(first, apart)):
            one[x] = one[first]
        for x in range(after, apart):
            one[x] = one[after - 1]


@inner
def _copy(source, out):
    for x in range(out.size):
        out[x] = source[x]


@inner
def _row(source, plane, starts, low, weights, nodes, y, begin, count, out, at, apart):
    """Sample a row of all planes, `STEP` pixels at a time.

    Pixel x takes the pixels x of those runs of the source that `starts` tells, the first of which
    is called `low`.
    """
    above, below, share = nodes[y // STEP], nodes[y // STEP + 1], (y % STEP) / STEP
    half, x = weights.shape[0], u64(0)
    three = _coefficients(weights, 0), _coefficients(weights, 1), _coefficients(weights, 2)
    here = above[begin] + share * (below[begin] - above[begin])
    for j in range(begin + 1, begin + count + 1):
        after = above[j] + share * (below[j] - above[j])
        base = np.floor(min(here, after))
        start, step = f32(here - base), f32((after - here) / STEP)
        place = fused(numbered(), alike(step), alike(start))
        whole = floor(place)
        t = place - whole - alike(f32(0.5))
        most = max(np.int64(start), np.int64(fma(f32(STEP - 1), step, start)))
        first = u64(np.int64(base) - low - (half - 1))
        to = u64(at) + x
        coming = starts[first + u64(2 * half + AHEAD)] + x
        fetch(source, coming)
        fetch(source, coming + plane)
        fetch(source, coming + plane + plane)
        if half > LOBES:
            _widely(source, plane, starts, first, x, whole, most, weights, t, out, to, u64(apart))
        elif most == 0:
            _sample(source, plane, starts, first, x, whole, 0, three, t, out, to, u64(apart))
        elif most == 1:
            _sample(source, plane, starts, first, x, whole, 1, three, t, out, to, u64(apart))
        else:
            _sample(source, plane, starts, first, x, whole, most, three, t, out, to, u64(apart))
        here, x = after, x + u64(STEP)


@inlined
def _coefficients(p, k):
    return p[k, 0], p[k, 1], p[k, 2], p[k, 3], p[k, 4], p[k, 5]


@inlined
def _mirrored(p, t, square):
    """Weights of a pixel and of the one that mirrors it: even powers and odd ones apart."""
    even = fused(fused(alike(p[4]), square, alike(p[2])), square, alike(p[0]))
    odd = t * fused(fused(alike(p[5]), square, alike(p[3])), square, alike(p[1]))
    return even + odd, even - odd


@inlined
def _sample(source, plane, starts, first, x, whole, most, three, t, out, to, apart):
    """Six pixels about each place, of which lane i has those from `whole` on; up to `most`."""
    square = t * t
    far, second, near = three
    weights = _mirrored(far, t, square), _mirrored(second, t, square), _mirrored(near, t, square)
    p, q, r = starts[first], starts[first + u64(1)], starts[first + u64(2)]
    s, u, v = starts[first + u64(3)], starts[first + u64(4)], starts[first + u64(5)]
    for _ in range(3):
        a, b, c = load(source, p + x), load(source, q + x), load(source, r + x)
        d, e, f = load(source, s + x), load(source, u + x), load(source, v + x)
        six, (g, h, i, j, k) = (a, b, c, d, e, f), (b, c, d, e, f)
        for n in range(1, most + 1):
            new = load(source, starts[first + u64(n + 5)] + x)
            six = _moved(whole, f32(n), six, (g, h, i, j, k, new))
            g, h, i, j, k = h, i, j, k, new
        store(out, to, _held(six, weights))
        x, to = x + plane, to + apart


@inlined
def _moved(whole, n, six, others):
    a, b, c, d, e, f = six
    g, h, i, j, k, m = others
    return (
        where_at_least(whole, n, g, a), where_at_least(whole, n, h, b),
        where_at_least(whole, n, i, c), where_at_least(whole, n, j, d),
        where_at_least(whole, n, k, e), where_at_least(whole, n, m, f),
    )  # fmt: skip


@inlined
def _held(six, weights):
    """The weighted sum of six pixels, not far beyond the middle two."""
    a, b, c, d, e, f = six
    (u, z), (v, y), (w, x) = weights
    near = fused(x, d, w * c)
    value = fused(z, f, fused(u, a, fused(y, e, fused(v, b, near))))
    rise, fall, level = c - b, d - e, alike(f32(0))
    over = greater(lesser(rise, fall), level)
    under = lesser(greater(rise, fall), level)
    high = fused(alike(PEAK), over, greater(c, d))
    low = fused(alike(PEAK), under, lesser(c, d))
    return greater(lesser(value, high), low)


@inlined
def _widely(source, plane, starts, first, x, whole, most, weights, t, out, to, apart):
    """Twice as many pixels about each place as there are weights."""
    square, last = t * t, first + u64(2 * weights.shape[0] - 1)
    red = green = blue = alike(f32(0))
    for n in range(weights.shape[0]):
        both = _mirrored(_coefficients(weights, n), t, square)
        near, far = first + u64(n), last - u64(n)
        red = _added(red, source, starts, near, far, x, whole, most, both)
        green = _added(green, source, starts, near, far, x + plane, whole, most, both)
        blue = _added(blue, source, starts, near, far, x + plane + plane, whole, most, both)
    store(out, to, red)
    store(out, to + apart, green)
    store(out, to + apart + apart, blue)


@inlined
def _added(total, source, starts, near, far, x, whole, most, weights):
    total = fused(weights[0], _chosen(source, starts, near, x, whole, most), total)
    return fused(weights[1], _chosen(source, starts, far, x, whole, most), total)


@inlined
def _chosen(source, starts, first, x, whole, most):
    """A pixel for each lane: that of a run so many after the first as its `whole` says."""
    if most > FEW:
        return gathered(source, starts, first, x, whole)
    value = load(source, starts[first] + x)
    for n in range(1, most + 1):
        value = where_at_least(whole, f32(n), load(source, starts[first + u64(n)] + x), value)
    return value
