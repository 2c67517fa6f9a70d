"""From scene light to a picture in Oklab, and changes to the picture."""

import numpy as np

from grading.kernels.primitives import (
    aligned,
    between,
    cbrt,
    channels,
    clamp,
    compiled,
    diamond_place,
    entries,
    exp2,
    f32,
    fma,
    i32,
    inner,
    log2,
    transform,
    u32,
)

DARKEST = f32(1e-9)
"""Lightness that replaces anything darker, down to black."""

RUN = 1024
"""Pixels that a kernel of several loops takes at a time; a look-up in a table is a loop of its
own, since it is the one thing that does not vectorise."""


def apply_tone_curve(
    rgb: np.ndarray, factors: np.ndarray, top: float, to_lms: np.ndarray, to_lab: np.ndarray
) -> np.ndarray:
    """Linear light to Oklab, with (L, a, b) scaled by a factor that depends on L.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Linear light.
    factors : ndarray, shape (n + 1,), float32
        Factors for L from 0 to `top`; the ends hold beyond.
    top : float
    to_lms, to_lab : ndarray, shape (3, 3)
        Linear light to cone response, and its cube root to Oklab.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    to_lms, to_lab = (np.asarray(m, np.float32) for m in (to_lms, to_lab))
    lab = aligned(rgb.shape)
    to_oklab(rgb, lab, to_lms, to_lab)
    _scale_by_lightness(lab, factors, np.float32((len(factors) - 1) / top))
    return lab


def scale_by_lightness(lab: np.ndarray, factors: np.ndarray, top: float) -> np.ndarray:
    """(L, a, b) scaled by a factor that depends on L; parameters as in `apply_tone_curve`."""
    out = aligned(lab.shape)
    out[:] = lab
    _scale_by_lightness(out, factors, np.float32((len(factors) - 1) / top))
    return out


@compiled
def to_oklab(rgb: np.ndarray, lab: np.ndarray, to_lms: np.ndarray, to_lab: np.ndarray) -> None:
    """Linear light to Oklab, into a given array; matrices as in `apply_tone_curve`, float32."""
    to_lms, to_lab = entries(to_lms), entries(to_lab)
    r, g, b = channels(rgb)
    p, q, s = channels(lab)
    for i in range(r.size):
        long, medium, short = transform(to_lms, r[i], g[i], b[i])
        u, v, w = transform(to_lab, cbrt(long), cbrt(medium), cbrt(short))
        p[i] = u
        q[i] = v
        s[i] = w


@compiled
def _scale_by_lightness(lab, factors, steps):
    index, share, factor = np.empty(RUN, i32), aligned((RUN,)), aligned((RUN,))
    lightness, a, b = channels(lab)
    for start in range(0, lightness.size, RUN):
        stop = min(start + RUN, lightness.size)
        _places_of_lightness(lightness[start:stop], steps, factors.size, index, share)
        look_up(factors, index, share, factor[: stop - start])
        _multiply(lightness[start:stop], factor)
        _multiply(a[start:stop], factor)
        _multiply(b[start:stop], factor)


@inner
def _places_of_lightness(lightness, steps, size, index, share):
    """Entry in a table with `steps` entries to a lightness of 1, and the share of the next."""
    top = f32(size - 1) * f32(1 - 1e-7)
    for i in range(lightness.size):
        place = clamp(lightness[i] * steps, f32(0), top)
        index[i] = i32(place)
        share[i] = place - f32(i32(place))


@inner
def look_up(table, index, share, out):
    """Entries of a table, each and its next mixed by a share."""
    for i in range(out.size):
        k = u32(index[i])
        out[i] = between(table[k], table[k + u32(1)], share[i])


@inner
def _multiply(x, factor):
    for i in range(x.size):
        x[i] *= factor[i]


def shift_by_lightness(lab: np.ndarray, power: float, terms: np.ndarray) -> np.ndarray:
    """(L, a, b) plus a shift that is quadratic in a power of lightness.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    power : float
        u is L to this power, L taken as 0 below 0 and as 1 above 1.
    terms : ndarray, shape (3, 3)
        For each of L, a and b what is added, in 1, u and u^2.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    return _shift_by_lightness(lab, np.float32(power), np.asarray(terms, np.float32))


@compiled
def _shift_by_lightness(lab, power, terms):
    out = aligned(lab.shape)
    p0, p1, p2 = terms[0, 0], terms[0, 1], terms[0, 2]
    q0, q1, q2 = terms[1, 0], terms[1, 1], terms[1, 2]
    s0, s1, s2 = terms[2, 0], terms[2, 1], terms[2, 2]
    lightness, a, b = channels(lab)
    p, q, s = channels(out)
    for i in range(lightness.size):
        light = clamp(lightness[i], DARKEST, f32(1))
        u = exp2(power * log2(light))
        u = u if light > DARKEST else f32(0)
        p[i] = lightness[i] + fma(u, fma(u, p2, p1), p0)
        q[i] = a[i] + fma(u, fma(u, q2, q1), q0)
        s[i] = b[i] + fma(u, fma(u, s2, s1), s0)
    return out


def change_by_hue(lab: np.ndarray, factors: np.ndarray, grey_chroma: float) -> np.ndarray:
    """Chroma times a complex factor, and lightness shifted, both depending on hue.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    factors : ndarray, shape (3, n + 1), float32
        Shift of lightness, real and imaginary part at even steps of the diamond angle
        (`grading.kernels.diamond`), the last equal to the first.
    grey_chroma : float
        Chroma c0 in the weight C^2 / (C^2 + c0^2) of the shift of lightness.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    return _change_by_hue(lab, factors, np.float32(grey_chroma**2))


@compiled
def _change_by_hue(lab, factors, grey):
    out = aligned(lab.shape)
    index, share, factor = np.empty(RUN, i32), aligned((RUN,)), aligned((3, RUN))
    lightness, a, b = channels(lab)
    p, q, s = channels(out)
    for start in range(0, lightness.size, RUN):
        stop = min(start + RUN, lightness.size)
        places_of_hue(a[start:stop], b[start:stop], factors.shape[1], index, share)
        for k in range(3):
            look_up(factors[k], index, share, factor[k, : stop - start])
        _change_run(
            lightness[start:stop], a[start:stop], b[start:stop],
            factor[0], factor[1], factor[2], grey,
            p[start:stop], q[start:stop], s[start:stop],
        )
    return out


@inner
def places_of_hue(first, second, size, index, share):
    """Entry in a table by the diamond angle of a hue, and the share of the next."""
    for i in range(first.size):
        place = diamond_place(first[i], second[i], size)
        index[i] = i32(place)
        share[i] = place - f32(i32(place))


@inner
def _change_run(lightness, first, second, shift, real, imaginary, grey, p, q, s):
    for i in range(lightness.size):
        a, b = first[i], second[i]
        chroma = fma(a, a, b * b)
        p[i] = fma(shift[i], chroma / (chroma + grey), lightness[i])
        q[i] = fma(a, real[i], -b * imaginary[i])
        s[i] = fma(b, real[i], a * imaginary[i])
