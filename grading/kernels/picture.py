"""From scene light to a picture in Oklab, and changes to the picture."""

import numpy as np

from grading.kernels.primitives import cbrt, clamp, compiled, f32, i32, look_up, u32


def tone(rgb, factors, top, to_lms, to_lab):
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
    out = np.empty_like(rgb)
    to_lms, to_lab = (np.asarray(m, np.float32) for m in (to_lms, to_lab))
    flat = out.reshape(3, -1)
    _to_oklab(rgb.reshape(3, -1), flat, to_lms, to_lab)
    _scale_by_lightness(flat, factors, np.float32((len(factors) - 1) / top))
    return out


@compiled
def _to_oklab(x, out, to_lms, to_lab):
    m00, m01, m02 = to_lms[0, 0], to_lms[0, 1], to_lms[0, 2]
    m10, m11, m12 = to_lms[1, 0], to_lms[1, 1], to_lms[1, 2]
    m20, m21, m22 = to_lms[2, 0], to_lms[2, 1], to_lms[2, 2]
    n00, n01, n02 = to_lab[0, 0], to_lab[0, 1], to_lab[0, 2]
    n10, n11, n12 = to_lab[1, 0], to_lab[1, 1], to_lab[1, 2]
    n20, n21, n22 = to_lab[2, 0], to_lab[2, 1], to_lab[2, 2]
    r, g, b = x[0], x[1], x[2]
    p, q, s = out[0], out[1], out[2]
    for i in range(r.size):
        u, v, w = r[i], g[i], b[i]
        long = cbrt(m00 * u + m01 * v + m02 * w)
        medium = cbrt(m10 * u + m11 * v + m12 * w)
        short = cbrt(m20 * u + m21 * v + m22 * w)
        p[i] = n00 * long + n01 * medium + n02 * short
        q[i] = n10 * long + n11 * medium + n12 * short
        s[i] = n20 * long + n21 * medium + n22 * short


@compiled
def _scale_by_lightness(lab, factors, steps):
    top = f32(factors.size - 1) * f32(1 - 1e-6)
    lightness, a, b = lab[0], lab[1], lab[2]
    for i in range(lightness.size):
        k = look_up(factors, clamp(lightness[i] * steps, f32(0), top))
        lightness[i] *= k
        a[i] *= k
        b[i] *= k


def shift_by_lightness(lab, shifts):
    """(L, a, b) plus a shift that depends on L.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    shifts : ndarray, shape (3, n + 1), float32
        For L from 0 to 1; the ends hold beyond.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    out = np.empty_like(lab)
    _shift(lab.reshape(3, -1), out.reshape(3, -1), np.ascontiguousarray(shifts.T))
    return out


@compiled
def _shift(x, out, table):
    steps = f32(table.shape[0] - 1)
    top = steps * f32(1 - 1e-6)
    lightness, a, b = x[0], x[1], x[2]
    p, q, s = out[0], out[1], out[2]
    for i in range(lightness.size):
        position = clamp(lightness[i] * steps, f32(0), top)
        k = i32(position)
        t = position - f32(k)
        k = u32(k)
        n = k + u32(1)
        p[i] = lightness[i] + (table[k, 0] + t * (table[n, 0] - table[k, 0]))
        q[i] = a[i] + (table[k, 1] + t * (table[n, 1] - table[k, 1]))
        s[i] = b[i] + (table[k, 2] + t * (table[n, 2] - table[k, 2]))


def turn_by_hue(lab, factors, grey_chroma):
    """Chroma times a complex factor, and lightness shifted, both depending on hue.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns), float32
    factors : ndarray, shape (3, n + 1), float32
        Real part, imaginary part and shift of lightness at even steps of the diamond angle
        (`grading.kernels.diamond`), the last equal to the first.
    grey_chroma : float
        Chroma c0 in the weight C^2 / (C^2 + c0^2) of the shift of lightness.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    out = np.empty_like(lab)
    table = np.ascontiguousarray(factors.T)
    _turn(lab.reshape(3, -1), out.reshape(3, -1), table, np.float32(grey_chroma**2))
    return out


@compiled
def _turn(x, out, table, grey):
    steps = f32((table.shape[0] - 1) / 4)
    top = f32(table.shape[0] - 1) * f32(1 - 1e-6)
    lightness, first, second = x[0], x[1], x[2]
    p, q, s = out[0], out[1], out[2]
    for i in range(lightness.size):
        a, b = first[i], second[i]
        share = a / (abs(a) + abs(b) + f32(1e-12))
        u = f32(1) - share if b >= f32(0) else f32(3) + share
        position = clamp(u * steps, f32(0), top)
        k = i32(position)
        t = position - f32(k)
        k = u32(k)
        n = k + u32(1)
        real = table[k, 0] + t * (table[n, 0] - table[k, 0])
        imaginary = table[k, 1] + t * (table[n, 1] - table[k, 1])
        shift = table[k, 2] + t * (table[n, 2] - table[k, 2])
        chroma = a * a + b * b
        p[i] = lightness[i] + shift * (chroma / (chroma + grey))
        q[i] = a * real - b * imaginary
        s[i] = b * real + a * imaginary
