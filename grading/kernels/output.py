"""From a picture in Oklab to the codes of a file: gamut, transfer curve, dither, rounding."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.kernels.gamut import BAND, put_light, reduce_chroma
from grading.kernels.primitives import (
    aligned,
    borrowing,
    channels,
    clamp,
    compiled,
    exp2,
    f32,
    fma,
    i32,
    inner,
    log2,
    scramble,
    u32,
)

if TYPE_CHECKING:
    from grading.colour.gamut import Gamut
    from grading.colour.transfer import Coefficients

DARKEST = f32(1e-12)
"""Replaces darker light, down to black; no code can show the difference on any curve."""


def to_codes(
    lab: np.ndarray,
    gamut: Gamut,
    curve: Coefficients,
    codes: np.ndarray,
    y0: int,
    x0: int,
    dither: bool,
    top: int | None = None,
) -> tuple[np.ndarray, int]:
    """Write the codes of a tile into a picture, with colours outside of the gamut brought in.

    A colour that the destination cannot show keeps its hue and lightness and loses chroma until
    it can (chroma reduction in Oklab as in W3C CSS Color 4, section 13, without that method's
    final clip); beyond white and black there is only white and black.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    gamut : grading.colour.gamut.Gamut
        Of the destination.
    curve : grading.colour.transfer.Coefficients
        Transfer curve of the destination.
    codes : ndarray, shape (height, width, 3), uint8 or uint16
        The whole picture.
    y0, x0 : int
        Place of the tile in it; seeds the dither, so that tiles do not show.
    dither : bool
        Add triangular noise of one code (Lipshitz, Wannamaker and Vanderkooy, J. Audio Eng. Soc.
        40:355, 1992) before rounding; less where black or white is nearer than that.
    top : int, optional
        The highest code; that of the type of the codes unless given.

    Returns
    -------
    ends : ndarray, shape (2, 3), int64
        How many pixels of the tile are at the lowest and at the highest code, for each channel.
    outside : int
        How many pixels lay outside of the gamut, beyond black and white not counted.
    """
    ends = np.zeros((2, 3), np.int64)
    encoding = encoding_constants(curve, top or np.iinfo(codes.dtype).max)
    noise = np.float32(1 if dither else 0)
    outside = _to_codes(lab, gamut, encoding, noise, codes, y0, x0, ends)
    return ends, outside


@compiled
def _to_codes(lab, gamut, encoding, noise, codes, y0, x0, ends):
    rows, columns = lab.shape[1:]
    step = max(BAND // columns, 1)
    rgb, index = aligned((3, step, columns)), np.empty(step * columns, i32)
    row, bent, outside = np.empty((3, columns), codes.dtype), aligned((columns,)), 0
    light = channels(rgb)
    for y in range(0, rows, step):
        lightness, a, b = lab[0, y : y + step], lab[1, y : y + step], lab[2, y : y + step]
        some = lightness.ravel(), a.ravel(), b.ravel()
        size = put_light(some[0], some[1], some[2], gamut, light[0], light[1], light[2], index)
        if size:
            outside += reduce_chroma(some, index[:size], gamut, light, index[:size])
        here = y0 + y
        _encode_rows(rgb, min(step, rows - y), encoding, noise, codes, here, x0, row, bent, ends)
    return outside


def encode(
    rgb: np.ndarray,
    curve: Coefficients,
    codes: np.ndarray,
    y0: int,
    x0: int,
    dither: bool,
    top: int | None = None,
) -> np.ndarray:
    """Write the codes of a tile of linear light, rounded, into a picture.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
    curve, codes, y0, x0, dither, top
        As in `to_codes`.

    Returns
    -------
    ndarray, shape (2, 3), int64
        Pixels of the tile at the lowest and at the highest code, for each channel.
    """
    ends = np.zeros((2, 3), np.int64)
    encoding = encoding_constants(curve, top or np.iinfo(codes.dtype).max)
    noise = np.float32(1 if dither else 0)
    _encode(rgb, encoding, noise, codes, y0, x0, ends)
    return ends


def encoding_constants(curve: Coefficients, top: int) -> tuple[np.float32, ...]:
    """What a loop needs of a transfer curve to codes from 0 to `top`, float32.

    The highest code; power, gain and offset of the bent part; slope of the straight part, and the
    light where it ends.
    """
    gamma, a, b, c, d = curve
    return tuple(np.float32(v) for v in (top, 1 / gamma, top / a, -top * b / a, top / c, c * d))


@compiled
def _encode(rgb, encoding, noise, codes, y0, x0, ends):
    row, bent = np.empty((3, rgb.shape[2]), codes.dtype), aligned((rgb.shape[2],))
    _encode_rows(rgb, rgb.shape[1], encoding, noise, codes, y0, x0, row, bent, ends)


@borrowing
def _encode_rows(rgb, rows, encoding, noise, codes, y0, x0, row, bent, ends):
    for y in range(rows):
        _encode_row(
            rgb[0, y], rgb[1, y], rgb[2, y], encoding, noise, codes, y0 + y, x0, bent, row, ends
        )


@inner
def _encode_row(red, green, blue, encoding, noise, codes, y, x0, bent, row, ends):
    for c in range(3):
        _apply_curve(red if c == 0 else green if c == 1 else blue, encoding, bent)
        seed = u32(u32(y) * u32(0x9E3779B1) + u32(c) * u32(0x85EBCA77))
        _dither(bent, seed, u32(x0), noise, encoding[0], row[c])
        _count_ends(row[c], i32(encoding[0]), ends[:, c])
    _interleave(row[0], row[1], row[2], codes[y].reshape(-1)[3 * x0 :])


@inner
def _apply_curve(light, encoding, out):
    _, power, gain, offset, slope, knee = encoding
    for x in range(light.size):
        v = clamp(light[x], DARKEST, f32(1))
        bent = fma(exp2(power * log2(v)), gain, offset)
        out[x] = bent if v >= knee else v * slope


@inner
def _dither(values, seed, x0, noise, top, codes):
    for x in range(values.size):
        h = scramble(u32(seed + u32(x0 + u32(x)) * u32(0xC2B2AE3D)))
        both = fma(f32(i32(h & u32(0xFFFF)) + i32(h >> u32(16))), f32(1 / 65536), f32(-1))
        value = values[x]
        room = min(min(value, top - value), noise)
        codes[x] = i32(fma(both, room, value) + f32(0.5))


@inner
def _extremes(codes):
    low, high = codes[0], codes[0]
    for x in range(codes.size):
        low, high = min(low, codes[x]), max(high, codes[x])
    return low, high


@inner
def _count_ends(codes, top, ends):
    low, high = _extremes(codes)
    if low > 0 and high < top:
        return
    black, white = i32(0), i32(0)
    for x in range(codes.size):
        black += i32(codes[x] == 0)
        white += i32(codes[x] == top)
    ends[0] += black
    ends[1] += white


@inner
def _interleave(first, second, third, codes):
    for x in range(first.size):
        codes[3 * x] = first[x]
        codes[3 * x + 1] = second[x]
        codes[3 * x + 2] = third[x]
