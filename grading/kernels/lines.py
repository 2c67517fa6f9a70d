"""Planes of light sampled where a map says: down the columns first, and then along the rows.

A map that turns, shifts and bends gently is exact in two passes (Catmull and Smith, Computer
Graphics 14(3):279, 1980). Places are given at nodes (`places`). Between two pixels light is that of
Lanczos's window (`window`), held to what its nearest pixels allow.

Both passes take `LANES` pixels of a row at a time. A pass down the columns needs, for each of them,
pixels of one column, but not always of the same rows; one along the rows needs pixels side by side,
but for some one further. So each lane chooses from what a few loads bring.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.lanes import (
    Lanes,
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
from grading.kernels.places import STEP, extent, find_groups, room_for_groups
from grading.kernels.primitives import aligned, borrowing, compiled, f32, u64
from grading.kernels.window import LOBES

PEAK = f32(0.25)
"""How far light may rise above its two nearest pixels, as a share of how far both lie above the
pixels beyond them. A crest of a quarter of a cycle a pixel needs 0.21; beside an edge it is 0."""

AHEAD = 2
"""Rows from the last that is needed to that which is fetched. Where a picture's rows fall across
the frame, each reads new pixels before those that the last one did, which no processor foresees."""

FEW = 8
"""Where lanes of a window that is widened lie more places apart, each loads its own pixels."""


class Source(NamedTuple):
    """Three planes in one run of pixels. Pixel x of one that is made takes its own from the pixels
    ``starts[k - low] + x``, of which k is the place; to the next plane it is so far."""

    pixels: np.ndarray
    plane: np.uint64
    starts: np.ndarray
    low: int


class Made(NamedTuple):
    """Three planes of a row, in one run of pixels, from the first of them on."""

    pixels: np.ndarray
    plane: np.uint64
    first: int


class Places(NamedTuple):
    """Where lanes find pixels: in the starts from `first` on, a lane by its `whole` farther, which
    is `most` at most; and the way from the middle of the two next pixels."""

    first: np.uint64
    whole: Lanes
    most: int
    way: Lanes


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
    bottom, node, count = top + out.shape[1], left // STEP, -(-out.shape[2] // STEP)
    half, end = weigh_across.shape[0], node + count
    first = left + extent(across, top, bottom, node, node + 1)[0] - half
    last = STEP * end + extent(across, top, bottom, end - 1, end)[1] + half + 1
    some = min(max(first, 0), columns - 1) // STEP
    every = max(-(-min(last, columns) // STEP), some + 1) - some
    first = min(first, STEP * some)
    length = max(last, STEP * (some + every)) - first
    line = aligned((3 * length,))

    low, high = extent(down, top, bottom, some, some + every)
    low, high = low - weigh_down.shape[0], high + weigh_down.shape[0] + 2 + AHEAD
    ways = np.arange(low, high)
    for k in range(ways.size):
        ways[k] = min(max(ways[k], 0), rows - 1) % light.shape[1] * light.shape[2] + STEP * some
    plane = u64(light.shape[1] * light.shape[2])
    above = Source(light.ravel(), plane, ways.astype(np.uint64), low)
    low, high = extent(across, top, bottom, node, end)
    low, high = low - half, high + half + 2 + AHEAD
    ways = np.arange(low, high) + (left - first)
    beside = Source(line, u64(length), ways.astype(np.uint64), low)

    groups, others = room_for_groups(every), room_for_groups(count)
    between = Made(line, u64(length), STEP * some - first)
    fits = out.shape[2] == STEP * count
    room = out.ravel() if fits else aligned((3 * STEP * count,))
    _rows(
        above, beside, (down, across), (weigh_down, weigh_across), (some, node), (groups, others),
        between, room, fits, (-first, columns - first), (top, bottom), out,
    )  # fmt: skip


@borrowing
def _rows(above, beside, places, weights, nodes, groups, between, room, fits, within, region, out):
    """Rows are made where they belong, or in room for one, for as many pixels as groups have."""
    (down, across), (weigh_down, weigh_across) = places, weights
    line, length = between.pixels, int(between.plane)
    plane = u64(room.size // 3)
    for y in range(region[0], region[1]):
        find_groups(down, y, nodes[0], above.low + weigh_down.shape[0] - 1, groups[0])
        _row(above, weigh_down, groups[0], between)
        _extend(line, length, within[0], within[1])
        find_groups(across, y, nodes[1], beside.low + weigh_across.shape[0] - 1, groups[1])
        start = (y - region[0]) * out.shape[2] if fits else 0
        _row(beside, weigh_across, groups[1], Made(room, plane, start))
        if not fits:
            for c in range(3):
                _copy(room[int(plane) * c :], out[c, y - region[0]])


@borrowing
def _extend(line, length, first, after):
    """Beyond its ends a line goes on as it ends."""
    for c in range(3):
        one = line[c * length : (c + 1) * length]
        for x in range(min(first, length)):
            one[x] = one[first]
        for x in range(after, length):
            one[x] = one[after - 1]


@borrowing
def _copy(source, out):
    for x in range(out.size):
        out[x] = source[x]


@borrowing
def _row(source, weights, groups, made):
    """Sample a row of all planes, a group at a time."""
    half, x, to = weights.shape[0], u64(0), u64(made.first)
    three = _coefficients(weights, 0), _coefficients(weights, 1), _coefficients(weights, 2)
    for k in range(groups.firsts.size):
        place = fused(numbered(), alike(groups.steps[k]), alike(groups.begins[k]))
        whole, most, first = floor(place), groups.most[k], u64(groups.firsts[k])
        places = Places(first, whole, most, place - whole - alike(f32(0.5)))
        _fetch(source, first + u64(2 * half + AHEAD), x)
        if half > LOBES:
            _widely(source, x, places, weights, made, to)
        elif most == 0:
            _sample(source, x, places, 0, three, made, to)
        elif most == 1:
            _sample(source, x, places, 1, three, made, to)
        else:
            _sample(source, x, places, most, three, made, to)
        x, to = x + u64(STEP), to + u64(STEP)


@inlined
def _fetch(source, k, x):
    at = source.starts[k] + x
    for _ in range(3):
        fetch(source.pixels, at)
        at += source.plane


@inlined
def _coefficients(weights, k):
    one = weights[k]
    return one[0], one[1], one[2], one[3], one[4], one[5]


@inlined
def _mirrored(p, t):
    """Weights of a pixel and of the one that mirrors it: even powers and odd ones apart."""
    square = t * t
    even = fused(fused(alike(p[4]), square, alike(p[2])), square, alike(p[0]))
    odd = t * fused(fused(alike(p[5]), square, alike(p[3])), square, alike(p[1]))
    return even + odd, even - odd


@inlined
def _sample(source, x, places, most, three, made, to):
    """By six pixels. What is known of `most` where this is called spares the compiler a loop."""
    outer, middle, inner = three
    t, first = places.way, places.first
    weights = _mirrored(outer, t), _mirrored(middle, t), _mirrored(inner, t)
    p, q, r = source.starts[first], source.starts[first + u64(1)], source.starts[first + u64(2)]
    first += u64(3)
    s, u, v = source.starts[first], source.starts[first + u64(1)], source.starts[first + u64(2)]
    for _ in range(3):
        six = (
            load(source.pixels, p + x), load(source.pixels, q + x), load(source.pixels, r + x),
            load(source.pixels, s + x), load(source.pixels, u + x), load(source.pixels, v + x),
        )  # fmt: skip
        later = six
        for n in range(1, most + 1):
            new = load(source.pixels, source.starts[first + u64(n + 2)] + x)
            later = later[1:] + (new,)
            six = _later_where(places.whole, f32(n), later, six)
        store(made.pixels, to, _held(six, weights))
        x, to = x + source.plane, to + made.plane


@inlined
def _later_where(whole, n, later, six):
    """The later six pixels for the lanes whose own begin at the nth or beyond."""
    return (
        where_at_least(whole, n, later[0], six[0]), where_at_least(whole, n, later[1], six[1]),
        where_at_least(whole, n, later[2], six[2]), where_at_least(whole, n, later[3], six[3]),
        where_at_least(whole, n, later[4], six[4]), where_at_least(whole, n, later[5], six[5]),
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
def _widely(source, x, places, weights, made, to):
    """By twice as many pixels as there are weights."""
    last = 2 * weights.shape[0] - 1
    red = green = blue = alike(f32(0))
    for n in range(weights.shape[0]):
        both = _mirrored(_coefficients(weights, n), places.way)
        y, z = x + source.plane, x + source.plane + source.plane
        red = fused(both[0], _chosen(source, x, places, n), red)
        red = fused(both[1], _chosen(source, x, places, last - n), red)
        green = fused(both[0], _chosen(source, y, places, n), green)
        green = fused(both[1], _chosen(source, y, places, last - n), green)
        blue = fused(both[0], _chosen(source, z, places, n), blue)
        blue = fused(both[1], _chosen(source, z, places, last - n), blue)
    store(made.pixels, to, red)
    store(made.pixels, to + made.plane, green)
    store(made.pixels, to + made.plane + made.plane, blue)


@inlined
def _chosen(source, x, places, n):
    """The nth pixel of each lane."""
    first = places.first + u64(n)
    if places.most > FEW:
        return gathered(source.pixels, source.starts, first, x, places.whole)
    value = load(source.pixels, source.starts[first] + x)
    for k in range(1, places.most + 1):
        later = load(source.pixels, source.starts[first + u64(k)] + x)
        value = where_at_least(places.whole, f32(k), later, value)
    return value
