"""The ASC CDL on a picture: Oklab to encoded RGB, slope, offset, power, saturation, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.kernels.gamut import bring_into_gamut
from grading.kernels.output import encoding_constants
from grading.kernels.picture import to_oklab
from grading.kernels.primitives import TINY, aligned, clamp, compiled, exp2, f32, inner, log2

if TYPE_CHECKING:
    from grading.colour.gamut import Gamut
    from grading.colour.transfer import Coefficients

LUMA = (np.float32(0.2126), np.float32(0.7152), np.float32(0.0722))
"""Weights of R, G, B in the saturation of the ASC CDL v1.2 (those of ITU-R BT.709)."""


def apply_decision(
    lab: np.ndarray,
    sop: np.ndarray,
    saturation: float,
    gamut: Gamut,
    to_lab: tuple[np.ndarray, np.ndarray],
    curve: Coefficients,
) -> np.ndarray:
    """A picture with a colour decision: clamp(slope * code + offset) ** power, then saturation.

    It acts on the encoded RGB that a display of the given space would be sent, so colours that
    such a display cannot show are brought in first, as in `grading.kernels.output.to_codes`.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    sop : ndarray, shape (3, 3), float32
        Slope, offset and power (rows) of red, green and blue (columns).
    saturation : float
    gamut : grading.colour.gamut.Gamut
        Of that display.
    to_lab : pair of ndarray, shape (3, 3)
        Linear RGB to cone response, and its cube root to Oklab.
    curve : grading.colour.transfer.Coefficients
        Transfer curve of the encoded RGB.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
        Oklab, inside of the gamut.
    """
    to_lab = tuple(np.asarray(m, np.float32) for m in to_lab)
    light, _ = bring_into_gamut(lab, gamut)
    rgb = light.reshape(3, -1)
    encoding, decoding = encoding_constants(curve, 1), tuple(np.float32(v) for v in curve)
    for channel, (slope, offset, power) in zip(rgb, np.asarray(sop, np.float32).T, strict=True):
        _slope_offset_power(channel, encoding, slope, offset, power)
    _saturate(rgb, np.float32(saturation))
    _decode(rgb.ravel(), decoding)
    out = aligned(lab.shape)
    to_oklab(light, out, *to_lab)
    return out


@inner
def _power(x, power):
    """x to a power for x in 0..1; 0 stays 0."""
    exponent = power * log2(x if x > TINY else TINY)
    y = exp2(exponent if exponent > f32(-126) else f32(-126))
    return y if x > f32(0) else f32(0)


@compiled
def _slope_offset_power(x, encoding, slope, offset, power):
    _, exponent, gain, lift, straight, knee = encoding
    for i in range(x.size):
        v = clamp(x[i], f32(0), f32(1))
        bent = _power(v, exponent) * gain + lift
        code = bent if v >= knee else v * straight
        x[i] = _power(clamp(code * slope + offset, f32(0), f32(1)), power)


@compiled
def _saturate(rgb, saturation):
    r, g, b = rgb[0], rgb[1], rgb[2]
    wr, wg, wb = LUMA
    for i in range(r.size):
        luma = wr * r[i] + wg * g[i] + wb * b[i]
        r[i] = clamp(luma + saturation * (r[i] - luma), f32(0), f32(1))
        g[i] = clamp(luma + saturation * (g[i] - luma), f32(0), f32(1))
        b[i] = clamp(luma + saturation * (b[i] - luma), f32(0), f32(1))


@compiled
def _decode(x, decoding):
    gamma, a, b, straight, knee = decoding
    for i in range(x.size):
        v = x[i]
        bent = _power(a * v + b, gamma)
        x[i] = bent if v >= knee else v * straight
