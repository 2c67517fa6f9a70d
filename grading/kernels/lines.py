"""Lines of light sampled at any places along them: of two such passes a turn of a picture is made.

A map that turns, shifts and bends gently is exact in two passes, first along the rows and then down
the columns (Catmull and Smith, Computer Graphics 14(3):279, 1980). Places are given at nodes, every
`STEP` pixels along the lines and across them, and run straight from node to node. Between two
pixels light is that of Lanczos's window of three lobes, held to what its nearest pixels allow.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from grading.kernels.primitives import aligned, compiled, f32, fma, i32, inner, u64

STEP = 16
"""Pixels, and lines, from one node to the next."""

LOBES = 3
TAPS = 2 * LOBES

AT_ONCE = 16
"""Lines that are sampled before they are laid the other way: as many as fill a cache line."""

PHASES = 1024
"""Places between two pixels that are told apart where lines are made shorter."""

PEAK = f32(0.25)
"""How far light may rise above its two nearest pixels, as a share of how far both lie above the
pixels beyond them. A crest of a quarter of a cycle a pixel needs 0.21; beside an edge it is 0."""


def lanczos(distance: np.ndarray) -> np.ndarray:
    """Lanczos's window (Duchon, J. Appl. Meteorol. 18:1016, 1979).

    >>> lanczos(np.array([0.0, 0.5, 1.5])).round(4).tolist()
    [1.0, 0.6079, -0.1351]
    """
    inside = np.abs(distance) < LOBES
    return np.where(inside, np.sinc(distance) * np.sinc(distance / LOBES), 0)


@lru_cache(maxsize=1)
def polynomials() -> np.ndarray:
    """The weights of the first three of six pixels as polynomials in the way from the middle.

    The middle is that of the third and the fourth; the other three pixels mirror these. They meet
    `lanczos`, made to sum to one, at the extrema of a Chebyshev polynomial.

    Returns
    -------
    ndarray, shape (3, 6), float32
        Pixels, and coefficients that rise in order.
    """
    way = (1 - np.cos(np.pi * np.arange(TAPS) / (TAPS - 1))) / 2
    weights = lanczos(np.arange(TAPS)[:, None] - (LOBES - 1) - way)
    weights /= weights.sum(axis=0)
    powers = np.vander(way - 0.5, increasing=True)
    return np.linalg.solve(powers, weights.T).T[: TAPS // 2].astype(np.float32)


@lru_cache(maxsize=8)
def phases(scale: float) -> np.ndarray:
    """Weights of the pixels about a place on a line that is made shorter, for `PHASES` places.

    Parameters
    ----------
    scale : float
        Pixels of the line for one that is made, above 1.

    Returns
    -------
    ndarray, shape (PHASES, n), float32
        Of n pixels, an even number, the place lies between the middle two.
    """
    half = int(np.ceil(LOBES * scale))
    way = (np.arange(PHASES)[:, None] + 0.5) / PHASES
    weights = lanczos((np.arange(1 - half, 1 + half) - way) / scale)
    return (weights / weights.sum(axis=1, keepdims=True)).astype(np.float32)


def sample_lines(
    lines: np.ndarray,
    length: int,
    some: tuple[int, int],
    nodes: np.ndarray,
    scale: float,
    first: int,
    begin: int,
    count: int,
    out: np.ndarray,
    at: tuple[int, int],
) -> None:
    """Sample lines of light, and lay them the other way: rows become columns, and columns rows.

    Parameters
    ----------
    lines : ndarray, shape (3, n, room), float32
        Beyond its ends a line goes on as it ends.
    length : int
        Of a line. Where there is less room, it goes around, and what is needed of it is there.
    some : (int, int)
        Which of them: from the first to before the second.
    nodes : ndarray, shape (m, k), float64
        Where on line ``STEP * i`` pixel ``STEP * j`` of what is made lies, in pixels from the
        middle of the line's first; rising along each line.
    scale : float
        Pixels of a line for one that is made. Above 1, lines are made shorter by a wider window.
    first, begin : int
        By what number the nodes know the first of the lines in the array, and the first pixel that
        is made; the latter a multiple of `STEP`.
    count : int
        Pixels that are made of each line.
    out : ndarray, shape (3, rows, columns), float32
        Is written to.
    at : (int, int)
        Row and column of it where the first pixel of the first line goes.
    """
    shorter = scale > 1
    weights = phases(scale) if shorter else polynomials()
    _sample_lines(lines, length, *some, nodes, shorter, weights, first, begin, count, out, *at)


@compiled
def _sample_lines(
    lines, length, some, end, nodes, shorter, weights, first, begin, count, out, row, column
):
    half = weights.shape[1] // 2 if shorter else LOBES
    whole, way = np.empty(count, i32), aligned((count,))
    apart = AT_ONCE * (-(-count // AT_ONCE) | 1)  # an odd number of cache lines: no two collide
    made, padded = aligned((3, AT_ONCE, apart)), aligned((3, 0))
    run = np.empty(count + 1, i32)
    for top in range(some, end, AT_ONCE):
        n = min(AT_ONCE, end - top)
        for k in range(n):
            start, size = _places(nodes, first + top + k, begin, half, whole, way)
            if size > padded.shape[1]:
                padded = aligned((3, size))
            for c in range(3):
                _pad(lines[c, top + k], length, start, padded[c][:size])
            if shorter:
                _shorten(padded, weights, whole, way, made, k)
            else:
                _sample(padded, weights, whole, way, run, made, k)
        _lay(made, n, count, out, row, column + top - some)


@inner
def _places(nodes, line, begin, half, whole, way):
    """Where pixels lie on a line: whole pixels from the first that is needed, and the way on.

    Gives the number of the first that is needed, and how many are needed.
    """
    row, share = line // STEP, (line % STEP) / STEP
    above, below = nodes[row], nodes[min(row + 1, nodes.shape[0] - 1)]
    j, origin = begin // STEP, np.int64(0)
    for left in range(0, whole.size, STEP):
        here = above[j] + share * (below[j] - above[j])
        after = above[j + 1] + share * (below[j + 1] - above[j + 1])
        base = np.floor(here)
        if left == 0:
            origin = np.int64(base)
        start, step = f32(here - base), f32((after - here) / STEP)
        shift = i32(np.int64(base) - origin)
        w, t = whole[left : left + STEP], way[left : left + STEP]
        for i in range(w.size):
            place = fma(step, f32(i32(i)), start)
            w[i] = i32(i32(place) + shift)
            t[i] = place - f32(i32(place))
        j += 1
    return origin - (half - 1), whole[whole.size - 1] + 2 * half


@inner
def _pad(line, length, start, out):
    """Pixels of a line from `start` on; beyond its ends it goes on as it ends."""
    before = min(max(-start, 0), out.size)
    after = min(max(length - start, before), out.size)
    first, last = line[0], line[(length - 1) % line.size]
    for i in range(before):
        out[i] = first
    at = (start + before) % line.size
    turn = min(after, before + line.size - at)
    _copy(line[at:], out[before:turn])
    _copy(line, out[turn:after])
    for i in range(after, out.size):
        out[i] = last


@inner
def _copy(source, out):
    for i in range(out.size):
        out[i] = source[i]


@inner
def _sample(padded, polynomials, whole, way, run, out, k):
    source, apart = padded.ravel(), u64(padded.shape[1])
    made, step = out.ravel(), u64(out.shape[1] * out.shape[2])
    line = u64(k * out.shape[2])
    first, second, third = polynomials[0], polynomials[1], polynomials[2]
    near = (first[0], first[1], first[2], first[3], first[4], first[5])
    nearer = (second[0], second[1], second[2], second[3], second[4], second[5])
    nearest = (third[0], third[1], third[2], third[3], third[4], third[5])
    for r in range(_runs(whole, run)):
        a = run[r]
        _sample_run(
            source, u64(whole[a]), apart, way, u64(a), run[r + 1] - a, (near, nearer, nearest),
            made, line + u64(a), step,
        )  # fmt: skip


@inner
def _runs(whole, run):
    """Where runs begin, in which each pixel lies one further than the one before; how many."""
    breaks = i32(0)
    for i in range(1, whole.size):
        breaks += i32(whole[i] - whole[i - 1] != 1)
    run[0], count = 0, 1
    if breaks > 0:
        for i in range(1, whole.size):
            run[count] = i
            count += whole[i] - whole[i - 1] != 1
    run[count] = whole.size
    return count


@inner
def _sample_run(source, start, apart, way, begin, n, polynomials, out, at, step):
    """All three planes at once: weights stay in registers, and no slice is made for a short run."""
    for k in range(n):
        i, j = start + u64(k), at + u64(k)
        t = way[begin + u64(k)] - f32(0.5)
        square = t * t
        u, z = _mirrored(polynomials[0], t, square)
        v, y = _mirrored(polynomials[1], t, square)
        w, x = _mirrored(polynomials[2], t, square)
        weights = (u, v, w, x, y, z)
        out[j] = _between(source, i, weights)
        out[j + step] = _between(source, i + apart, weights)
        out[j + step + step] = _between(source, i + apart + apart, weights)


@inner
def _mirrored(p, t, square):
    """Weights of a pixel and of the one that mirrors it: even powers and odd ones apart."""
    even = fma(fma(p[4], square, p[2]), square, p[0])
    odd = t * fma(fma(p[5], square, p[3]), square, p[1])
    return even + odd, even - odd


@inner
def _between(source, i, weights):
    u, v, w, x, y, z = weights
    a, b, c = source[i], source[i + u64(1)], source[i + u64(2)]
    d, e, f = source[i + u64(3)], source[i + u64(4)], source[i + u64(5)]
    near = fma(x, d, w * c)
    value = fma(z, f, fma(u, a, fma(y, e, fma(v, b, near))))
    rise, fall = c - b, d - e
    over, under = max(min(rise, fall), f32(0)), min(max(rise, fall), f32(0))
    high, low = fma(PEAK, over, max(c, d)), fma(PEAK, under, min(c, d))
    return max(min(value, high), low)


@inner
def _shorten(padded, phases, whole, way, out, k):
    for c in range(3):
        line, source = out[c, k], padded[c]
        for i in range(way.size):
            weights = phases[i32(way[i] * f32(PHASES))]
            about, total = source[whole[i] : whole[i] + weights.size], f32(0)
            for j in range(weights.size):
                total += weights[j] * about[j]
            line[i] = total


@inner
def _lay(made, n, count, out, row, column):
    """Lines as columns of planes."""
    plane, line = out.ravel(), u64(out.shape[2])
    for c in range(3):
        at = u64((c * out.shape[1] + row) * out.shape[2] + column)
        for i in range(count):
            for k in range(n):
                plane[at + u64(k)] = made[c, k, i]
            at += line
