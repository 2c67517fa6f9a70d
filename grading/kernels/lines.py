"""Lines of light sampled at any places along them: of two such passes a turn of a picture is made.

A map that turns, shifts and bends gently is exact in two passes, first along the rows and then down
the columns (Catmull and Smith, Computer Graphics 14(3):279, 1980). Places are given at nodes, every
`STEP` pixels along the lines and across them, and run straight from node to node. Between two
pixels light is that of Lanczos's window of three lobes, held to what its nearest pixels allow.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from grading.kernels.primitives import aligned, compiled, f32, fma, i32, inner, series

STEP = 16
"""Pixels, and lines, from one node to the next."""

LOBES = 3
TAPS = 2 * LOBES

BLOCK = 1024
"""Pixels of a line whose weights are held at a time; they stay near to a core."""

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
    """The weight of each of six pixels as a polynomial in the way from the third to the fourth.

    They meet `lanczos`, made to sum to one, at the extrema of a Chebyshev polynomial.

    Returns
    -------
    ndarray, shape (6, 6), float32
        Pixels, and coefficients that rise in order.
    """
    way = (1 - np.cos(np.pi * np.arange(TAPS) / (TAPS - 1))) / 2
    weights = lanczos(np.arange(TAPS)[:, None] - (LOBES - 1) - way)
    weights /= weights.sum(axis=0)
    return np.linalg.solve(np.vander(way, increasing=True), weights.T).T.astype(np.float32)


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
    lines : ndarray, shape (3, n, length), float32
        Beyond its ends a line goes on as it ends.
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
    _sample_lines(lines, *some, nodes, shorter, weights, first, begin, count, out, *at)


@compiled
def _sample_lines(
    lines, some, end, nodes, shorter, weights, first, begin, count, out, row, column
):
    half = weights.shape[1] // 2
    whole, way = np.empty(count, i32), aligned((count,))
    apart = AT_ONCE * (-(-count // AT_ONCE) | 1)  # an odd number of cache lines: no two collide
    made, padded, held = aligned((3, AT_ONCE, apart)), aligned((3, 0)), aligned((TAPS, BLOCK))
    run = np.empty(BLOCK + 1, i32)
    for top in range(some, end, AT_ONCE):
        n = min(AT_ONCE, end - top)
        for k in range(n):
            start, size = _places(nodes, first + top + k, begin, half, whole, way)
            if size > padded.shape[1]:
                padded = aligned((3, size))
            for c in range(3):
                _pad(lines[c, top + k], start, padded[c][:size])
            if shorter:
                _shorten(padded, weights, whole, way, made, k)
            else:
                _sample(padded, weights, whole, way, held, run, made, k)
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
def _pad(line, start, out):
    """Pixels of a line from `start` on; beyond its ends it goes on as it ends."""
    before = min(max(-start, 0), out.size)
    after = min(max(line.size - start, before), out.size)
    first, last = line[0], line[line.size - 1]
    for i in range(before):
        out[i] = first
    inside, source = out[before:after], line[start + before : start + after]
    for i in range(inside.size):
        inside[i] = source[i]
    for i in range(after, out.size):
        out[i] = last


@inner
def _sample(padded, polynomials, whole, way, weights, run, out, k):
    for left in range(0, way.size, BLOCK):
        right = min(left + BLOCK, way.size)
        for tap in range(TAPS):
            _weigh(way[left:right], polynomials[tap], weights[tap])
        for r in range(_runs(whole[left:right], run)):
            a, b = run[r], run[r + 1]
            source = whole[left + a]
            for c in range(3):
                _sample_run(padded[c][source:], weights, a, out[c, k][left + a : left + b])


@inner
def _weigh(way, polynomial, weights):
    p, q, r = polynomial[0], polynomial[1], polynomial[2]
    s, t, u = polynomial[3], polynomial[4], polynomial[5]
    for i in range(way.size):
        weights[i] = series(way[i], (p, q, r, s, t, u))


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
def _sample_run(source, weights, start, out):
    n = out.size
    end = start + n
    a, b, c = source[:n], source[1 : n + 1], source[2 : n + 2]
    d, e, f = source[3 : n + 3], source[4 : n + 4], source[5 : n + 5]
    u, v, w = weights[0][start:end], weights[1][start:end], weights[2][start:end]
    x, y, z = weights[3][start:end], weights[4][start:end], weights[5][start:end]
    for i in range(n):
        near = fma(x[i], d[i], w[i] * c[i])
        value = fma(z[i], f[i], fma(u[i], a[i], fma(y[i], e[i], fma(v[i], b[i], near))))
        rise, fall = c[i] - b[i], d[i] - e[i]
        over, under = max(min(rise, fall), f32(0)), min(max(rise, fall), f32(0))
        high, low = fma(PEAK, over, max(c[i], d[i])), fma(PEAK, under, min(c[i], d[i]))
        out[i] = max(min(value, high), low)


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
    for c in range(3):
        for i in range(count):
            line = out[c, row + i][column : column + n]
            for k in range(n):
                line[k] = made[c, k, i]
