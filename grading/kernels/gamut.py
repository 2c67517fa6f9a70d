"""Colours outside of a destination's gamut brought in at their own hue and lightness."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.kernels.primitives import (
    aligned,
    between,
    borrowing,
    channels,
    clamp,
    compiled,
    diamond_place,
    entries,
    f32,
    i32,
    inner,
    transform,
    u32,
)

if TYPE_CHECKING:
    from grading.colour.gamut import Gamut

INSIDE = f32(5e-6)
"""How far outside of 0..1 a channel may lie and still count as inside: a little more than what
rounding to float32 leaves on the way from scene light."""

BAND = 4096
"""Pixels that are taken from Oklab to light at a time; they stay near to a core, and those outside
are enough to be brought in together."""

RUN = 64
"""Pixels that are looked through at a time."""

HALVINGS = 15
"""Steps of the search for the gamut's bright boundary; the last is 2**-15 of the chroma."""


def bring_into_gamut(lab: np.ndarray, gamut: Gamut) -> tuple[np.ndarray, int]:
    """Linear light of a destination, with colours outside of its gamut brought in.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    gamut : grading.colour.gamut.Gamut

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    outside : int
        How many pixels lay outside, except those beyond black and white.
    """
    rgb, (_, rows, columns) = aligned(lab.shape), lab.shape
    return rgb, add_light(lab, (0, 0), np.array([[0, columns]]), rows, gamut, rgb)[0]


def add_light(
    lab: np.ndarray,
    corner: tuple[int, int],
    spans: np.ndarray,
    block: int,
    gamut: Gamut,
    light: np.ndarray,
) -> tuple[int, int]:
    """Put what `bring_into_gamut` makes of a tile into the light of a picture, as far as wanted.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    corner : (int, int)
        Row and column of the light where the tile begins.
    spans : ndarray, shape (n, 2), int64
        First column of the light, and the one after the last, that is wanted of each so many rows:
    block : int
    gamut : grading.colour.gamut.Gamut
    light : ndarray, shape (3, room, width), float32
        Is written to: row y is in row ``y % room``.

    Returns
    -------
    outside : int
        How many pixels lay outside, except those beyond black and white.
    wanted : int
        Of how many.
    """
    return _add_light(lab, *corner, spans, block, gamut, light)


@compiled
def _add_light(lab, top, left, spans, block, gamut, light):
    _, rows, columns = lab.shape
    step, outside, wanted = max(BAND // columns, 1), 0, 0
    index, to = np.empty(step * columns, i32), np.empty(step * columns, i32)
    for y in range(0, rows, step):
        some = y, min(y + step, rows)
        size, seen = _put_rows(lab, some, top, left, spans, block, gamut, light, index, to)
        wanted += seen
        if size:
            outside += reduce_chroma(channels(lab), index[:size], gamut, channels(light), to[:size])
    return outside, wanted


@borrowing
def _put_rows(lab, some, top, left, spans, block, gamut, light, index, to):
    """Some rows of `add_light`, where nothing is brought in yet.

    Returns how many pixels lie outside of the gamut, of how many; `index` and `to` tell where in
    the tile and in the light, counted row after row, they do.
    """
    columns, size, wanted = lab.shape[2], 0, 0
    for y in range(some[0], some[1]):
        first, last = spans[(top + y) // block]
        first, last = max(first, left), min(last, left + columns)
        if first < last:
            row, here = (top + y) % light.shape[1], slice(first - left, last - left)
            found = put_light(
                lab[0, y, here], lab[1, y, here], lab[2, y, here], gamut,
                light[0, row, first:last], light[1, row, first:last], light[2, row, first:last],
                index[size:],
            )  # fmt: skip
            begin, end = row * light.shape[2] + first, y * columns + first - left
            for k in range(size, size + found):
                to[k] = index[k] + i32(begin)
                index[k] += i32(end)
            size, wanted = size + found, wanted + last - first
    return size, wanted


@borrowing
def put_light(lightness, a, b, gamut, red, green, blue, index):
    """Light of pixels in a row, also where no channel can show it, into given planes.

    `index` has room for a number for each pixel: it is told which lie outside of the gamut. Returns
    how many.
    """
    _to_linear(lightness, a, b, gamut, red, green, blue)
    size = 0
    for start in range(0, lightness.size, RUN):
        stop = min(start + RUN, lightness.size)
        r, g, s = red[start:stop], green[start:stop], blue[start:stop]
        if _any_outside(r, g, s):
            for i in range(r.size):
                index[size] = start + i
                size += _is_outside(r[i], g[i], s[i])
    return size


@inner
def _linear(lightness, a, b, to_lms, to_rgb):
    long, medium, short = transform(to_lms, lightness, a, b)
    return transform(
        to_rgb, long * long * long, medium * medium * medium, short * short * short
    )


@inner
def _to_linear(lightness, a, b, gamut, red, green, blue):
    to_lms, to_rgb = entries(gamut.to_lms), entries(gamut.to_rgb)
    for i in range(lightness.size):
        u, v, w = _linear(lightness[i], a[i], b[i], to_lms, to_rgb)
        red[i] = u
        green[i] = v
        blue[i] = w


@inner
def _is_outside(r, g, b):
    low, high = min(r, min(g, b)), max(r, max(g, b))
    return (low < -INSIDE) | (high > f32(1) + INSIDE)


@inner
def _any_outside(red, green, blue):
    count = i32(0)
    for i in range(red.size):
        count += i32(_is_outside(red[i], green[i], blue[i]))
    return count > 0


@inner
def reduce_chroma(lab, index, gamut, rgb, to):
    """Reduce chroma of pixels until no channel is dark, then where needed until none is bright.

    ``index`` tells where in the planes of (L, a, b) they are, ``to`` where in those of light.
    Returns how many they are, except those beyond black and white.
    """
    (lightness, a, b), (red, green, blue) = lab, rgb
    size, outside = index.size, 0
    light, first, second = np.empty(size, f32), np.empty(size, f32), np.empty(size, f32)
    share = np.empty(size, f32)
    for k in range(size):
        i = index[k]
        clamped = clamp(lightness[i], f32(0), f32(1))
        coloured = (clamped > f32(0)) & (clamped < f32(1))
        outside += coloured
        light[k] = clamped
        first[k] = a[i] if coloured else f32(0)
        second[k] = b[i] if coloured else f32(0)
    _share_without_dark(light, first, second, gamut.limit, share)
    _share_without_bright(light, first, second, gamut, share)
    to_lms, to_rgb = entries(gamut.to_lms), entries(gamut.to_rgb)
    for k in range(size):
        i, s = to[k], share[k]
        u, v, w = _linear(light[k], s * first[k], s * second[k], to_lms, to_rgb)
        red[i] = u
        green[i] = v
        blue[i] = w
    return outside


@inner
def _share_without_dark(lightness, a, b, limit, share):
    for k in range(share.size):
        place = diamond_place(a[k], b[k], limit.size)
        i = u32(i32(place))
        ratio = between(limit[i], limit[i + u32(1)], place - f32(i32(place)))
        chroma = np.sqrt(a[k] * a[k] + b[k] * b[k])
        largest = ratio * lightness[k]
        share[k] = largest / chroma if chroma > largest else f32(1)


@inner
def _share_without_bright(lightness, a, b, gamut, share):
    m, n = entries(gamut.to_lms), entries(gamut.to_rgb)
    found, step = np.zeros(share.size, f32), f32(1)
    for k in range(share.size):
        found[k] = share[k] if _none_bright(lightness[k], a[k], b[k], share[k], m, n) else f32(0)
    for _ in range(HALVINGS):
        step *= f32(0.5)
        for k in range(share.size):
            trial = min(found[k] + step * share[k], share[k])
            fits = _none_bright(lightness[k], a[k], b[k], trial, m, n)
            found[k] = trial if fits else found[k]
    for k in range(share.size):
        share[k] = found[k]


@inner
def _none_bright(lightness, a, b, share, m, n):
    u, v, w = _linear(lightness, share * a, share * b, m, n)
    return max(u, max(v, w)) <= f32(1) + INSIDE
