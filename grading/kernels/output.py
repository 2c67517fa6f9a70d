"""From a picture in Oklab to the codes of a file: gamut, transfer curve, dither, rounding."""

import numpy as np

from grading.kernels.primitives import (
    clamp,
    compiled,
    diamond_place,
    exp2,
    f32,
    i32,
    log2,
    scramble,
    u32,
)

INSIDE = f32(5e-6)
"""How far outside of 0..1 a channel may lie and still count as inside: a little more than what
rounding to float32 leaves on the way from scene light."""

DARKEST = f32(1e-9)
"""Stands in for darker light, down to black, which no code can tell from it."""

RUN = 1024
"""Pixels that are looked through at a time."""

HALVINGS = 15
"""Steps of the search for the gamut's bright boundary; the last is 2**-15 of the chroma."""


def to_codes(lab, gamut, curve, codes, y0, x0, dither):
    """Write the codes of a tile into a picture, with colours outside of the gamut brought in.

    A colour that the destination cannot show keeps its hue and lightness and loses chroma until
    it can (chroma reduction in Oklab as in W3C CSS Color 4, section 13, without that method's
    final clip); beyond white and black there is only white and black.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    gamut : grading.colour.gamut.Gamut
        Of the destination.
    curve : grading.colour.transfer.Parameters
        Transfer curve of the destination.
    codes : ndarray, shape (height, width, 3), uint8 or uint16
        The whole picture.
    y0, x0 : int
        Place of the tile in it; seeds the dither, so that tiles do not show.
    dither : bool
        Add triangular noise of one code (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc.
        40:355, 1992) before rounding; less where black or white is nearer than that.

    Returns
    -------
    ends : ndarray, shape (2, 3), int64
        How many pixels of the tile stand at the lowest and at the highest code, for each channel.
    outside : int
        How many pixels lay outside of the gamut, beyond black and white not counted.
    """
    rgb, outside = bring_into_gamut(lab.reshape(3, -1), gamut)
    return encode(rgb.reshape(lab.shape), curve, codes, y0, x0, dither), outside


def bring_into_gamut(lab, gamut):
    """Linear light of a destination, with colours outside of its gamut brought in.

    Parameters
    ----------
    lab : ndarray, shape (3, n), float32
    gamut : grading.colour.gamut.Gamut

    Returns
    -------
    rgb : ndarray, shape (3, n), float32
    outside : int
        How many pixels lay outside, beyond black and white not counted.
    """
    rgb = np.empty_like(lab)
    _to_linear(lab, gamut.to_lms, gamut.to_rgb, rgb)
    outside = _outside(rgb)
    return rgb, _bring_in(lab, outside, gamut, rgb) if outside.size else 0


@compiled
def _linear(lightness, a, b, m, n):
    long = m[0, 0] * lightness + m[0, 1] * a + m[0, 2] * b
    medium = m[1, 0] * lightness + m[1, 1] * a + m[1, 2] * b
    short = m[2, 0] * lightness + m[2, 1] * a + m[2, 2] * b
    long, medium, short = long * long * long, medium * medium * medium, short * short * short
    return (
        n[0, 0] * long + n[0, 1] * medium + n[0, 2] * short,
        n[1, 0] * long + n[1, 1] * medium + n[1, 2] * short,
        n[2, 0] * long + n[2, 1] * medium + n[2, 2] * short,
    )


@compiled
def _to_linear(lab, m, n, out):
    lightness, a, b = lab[0], lab[1], lab[2]
    r, g, s = out[0], out[1], out[2]
    for i in range(lightness.size):
        u, v, w = _linear(lightness[i], a[i], b[i], m, n)
        r[i] = u
        g[i] = v
        s[i] = w


@compiled
def _outside(rgb):
    """Indices of the pixels with a channel out of 0..1."""
    size, n = rgb.shape[1], 0
    index = np.empty(size, np.int32)
    for start in range(0, size, RUN):
        stop = min(start + RUN, size)
        r, g, b = rgb[0][start:stop], rgb[1][start:stop], rgb[2][start:stop]
        if _any_outside(r, g, b):
            for i in range(r.size):
                index[n] = start + i
                n += _is_outside(r[i], g[i], b[i])
    return index[:n]


@compiled
def _is_outside(r, g, b):
    low, high = min(r, min(g, b)), max(r, max(g, b))
    return not ((low >= -INSIDE) & (high <= f32(1) + INSIDE))


@compiled
def _any_outside(r, g, b):
    count = i32(0)
    for i in range(r.size):
        count += i32(_is_outside(r[i], g[i], b[i]))
    return count > 0


@compiled
def _bring_in(lab, index, gamut, rgb):
    """Reduce chroma until no channel is dark, then where needed until none is bright."""
    size = index.size
    lightness, a, b = np.empty(size, f32), np.empty(size, f32), np.empty(size, f32)
    share, outside = np.empty(size, f32), 0
    for k in range(size):
        i = index[k]
        light = clamp(lab[0, i], f32(0), f32(1))
        between = (light > f32(0)) & (light < f32(1))
        outside += between
        lightness[k] = light
        a[k] = lab[1, i] if between else f32(0)
        b[k] = lab[2, i] if between else f32(0)
    _share_without_dark(lightness, a, b, gamut.limit, share)
    _share_without_bright(lightness, a, b, gamut.to_lms, gamut.to_rgb, share)
    for k in range(size):
        i, s = index[k], share[k]
        u, v, w = _linear(lightness[k], s * a[k], s * b[k], gamut.to_lms, gamut.to_rgb)
        rgb[0, i] = u
        rgb[1, i] = v
        rgb[2, i] = w
    return outside


@compiled
def _share_without_dark(lightness, a, b, limit, share):
    for k in range(share.size):
        place = diamond_place(a[k], b[k], limit.size)
        i = u32(i32(place))
        low = limit[i]
        ratio = low + (place - f32(i32(place))) * (limit[i + u32(1)] - low)
        chroma = np.sqrt(a[k] * a[k] + b[k] * b[k])
        most = ratio * lightness[k]
        share[k] = most / chroma if chroma > most else f32(1)


@compiled
def _share_without_bright(lightness, a, b, m, n, share):
    found, step = np.zeros(share.size, f32), f32(1)
    for k in range(share.size):
        found[k] = share[k] if _none_bright(lightness[k], a[k], b[k], share[k], m, n) else f32(0)
    for _ in range(HALVINGS):
        step *= f32(0.5)
        for k in range(share.size):
            trial = min(found[k] + step * share[k], share[k])
            fits = _none_bright(lightness[k], a[k], b[k], trial, m, n)
            found[k] = trial if fits else found[k]
    share[:] = found


@compiled
def _none_bright(lightness, a, b, share, m, n):
    u, v, w = _linear(lightness, share * a, share * b, m, n)
    return max(u, max(v, w)) <= f32(1) + INSIDE


def encode(rgb, curve, codes, y0, x0, dither):
    """Write the codes of a tile of linear light, rounded, into a picture.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    curve, codes, y0, x0, dither
        As in `to_codes`.

    Returns
    -------
    ndarray, shape (2, 3), int64
        Pixels of the tile at the lowest and at the highest code, for each channel.
    """
    gamma, a, b, c, d = curve
    law = tuple(np.float32(v) for v in (1 / gamma, 1 / a, -b / a, 1 / c, c * d))
    top, noise = np.iinfo(codes.dtype).max, 1 if dither else 0
    ends = np.zeros((2, 3), np.int64)
    _encode(rgb, law, np.float32(noise), np.float32(top), codes, y0, x0, ends)
    return ends


@compiled
def _encode(rgb, law, noise, top, codes, y0, x0, ends):
    rows, columns = rgb.shape[1:]
    values = np.empty((3, columns), f32)
    for y in range(rows):
        for c in range(3):
            _bend(rgb[c, y], law, top, values[c])
            seed = u32(u32(y0 + y) * u32(0x9E3779B1) + u32(c) * u32(0x85EBCA77))
            _dither(values[c], seed, u32(x0), noise, top)
            ends[0, c] += _count_below(values[c], f32(1))
            ends[1, c] += columns - _count_below(values[c], top)
        _store(values[0], values[1], values[2], codes[y0 + y, x0 : x0 + columns])


@compiled
def _bend(light, law, top, out):
    power, gain, offset, slope, knee = law
    for x in range(light.size):
        v = clamp(light[x], DARKEST, f32(1))
        bent = exp2(power * log2(v)) * gain + offset
        out[x] = top * (bent if v >= knee else v * slope)


@compiled
def _dither(values, seed, x0, noise, top):
    for x in range(values.size):
        h = scramble(u32(seed + u32(x0 + u32(x)) * u32(0xC2B2AE3D)))
        both = f32(i32(h & u32(0xFFFF)) + i32(h >> u32(16))) * f32(1 / 65536) - f32(1)
        code = values[x]
        room = min(min(code, top - code), noise)
        values[x] = clamp(code + both * room, f32(0), top) + f32(0.5)


@compiled
def _count_below(values, bound):
    count = i32(0)
    for x in range(values.size):
        count += i32(values[x] < bound)
    return count


@compiled
def _store(first, second, third, codes):
    for x in range(first.size):
        codes[x, 0] = i32(first[x])
        codes[x, 1] = i32(second[x])
        codes[x, 2] = i32(third[x])
