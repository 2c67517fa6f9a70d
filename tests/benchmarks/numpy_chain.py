"""The same chain in plain NumPy, a whole frame at a time: what the engine is measured against.

It takes the engine's plan, so constants and guides are the same, and computes in float32 what the
compiled kernels compute, in the way one writes such a chain without thinking of caches.
"""

import numpy as np
from scipy import ndimage

from grading.colour import oklab, transfer
from grading.colour.gamut import gamut
from grading.kernels.diamond import diamond_degrees
from grading.kernels.grid import FINER, LEVEL
from grading.stages.hues import GREY_CHROMA
from grading.stages.lift import HIGHLIGHTS_FROM, SHADOWS_FROM
from grading.stages.tone_curve import TABLE_SIZE, TABLE_TOP

LUMINANCE = np.float32([0.2627, 0.6780, 0.0593])


def mixed(matrix, x):
    """A (3, 3) matrix times planes of shape (3, H, W)."""
    return np.tensordot(np.float32(matrix), x, axes=1)


def smooth(t):
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def white_balance(rgb, matrix, _):
    return mixed(matrix, rgb)


def exposure(rgb, gain, _):
    return rgb * gain


def lift(rgb, constants, guide):
    y = np.maximum(np.tensordot(LUMINANCE, rgb, axes=1), np.float32(2.0**-16))
    tones = np.log2(y / np.float32(0.18))
    base = tones + deviation(*guide, tones)
    shadows, highlights = constants
    stops = shadows * smooth(-base / np.float32(SHADOWS_FROM))
    stops += highlights * smooth(base / np.float32(HIGHLIGHTS_FROM))
    return rgb * np.exp2(stops)


def levels(rgb, constants, _):
    return rgb * constants.gain + constants.offset


def tone_curve(rgb, factors, _):
    lab = mixed(oklab.LMS_TO_OKLAB, np.cbrt(mixed(oklab.WORKING_TO_LMS, rgb)))
    grid = np.linspace(0, TABLE_TOP, TABLE_SIZE + 1, dtype=np.float32)
    return lab * np.interp(lab[0], grid, factors).astype(np.float32)


def split_toning(lab, constants, _):
    u = np.clip(lab[0], 0, 1) ** constants.power
    return lab + np.tensordot(constants.terms, np.stack([np.ones_like(u), u, u * u]), axes=1)


def hues(lab, factors, _):
    angle = np.degrees(np.arctan2(lab[2], lab[1])) % 360
    grid = diamond_degrees(factors.shape[1] - 1)
    lighter, real, imaginary = (np.float32(np.interp(angle, grid, f)) for f in factors)
    chroma = lab[1] ** 2 + lab[2] ** 2
    turned = (lab[1] + 1j * lab[2]) * (real + 1j * imaginary)
    weight = chroma / (chroma + np.float32(GREY_CHROMA**2))
    return np.stack([lab[0] + lighter * weight, turned.real, turned.imag])


STAGES = {
    f.__name__: f for f in (white_balance, exposure, lift, levels, tone_curve, split_toning, hues)
}


def deviation(grid, factor, tones):
    """From each pixel's own tone to the base, by a bilateral grid."""
    rows, columns = (np.arange(n, dtype=np.float32) + 0.5 for n in tones.shape)
    pitch, cells = np.float32(factor * grid.size), grid.cells
    y = np.broadcast_to((rows / pitch - np.float32(0.5))[:, None], tones.shape)
    x = np.broadcast_to(columns / pitch - np.float32(0.5), tones.shape)
    z = (tones - grid.low) * np.float32(FINER / LEVEL)
    places = np.stack([y, x, z])
    return ndimage.map_coordinates(cells[:, :-1], places, order=1, mode="nearest")


def grade(rgb, plan):
    """Camera RGB of the whole frame to Oklab, shape (3, H, W)."""
    for step in plan.steps:
        after = STAGES[step.stage.name](rgb, step.constants, (step.guide, plan.factor))
        if step.where is not None:
            weight = step.mask(plan.frame)
            after = rgb + weight * (after - rgb)
        rgb = after
    return rgb


def linear(lab, from_lms):
    return mixed(from_lms, mixed(oklab.OKLAB_TO_LMS, lab) ** 3)


def outside(rgb):
    return (rgb.min(axis=0) < -2e-5) | (rgb.max(axis=0) > 1 + 2e-5)


def to_codes(lab, output):
    """8-bit codes without dither, colours outside of the gamut brought in by less chroma."""
    from_lms = gamut(output.space).to_rgb
    rgb = linear(lab, from_lms)
    far = outside(rgb)
    some = lab[:, far][:, None]
    some[0] = np.clip(some[0], 0, 1)
    share, step = np.zeros(some.shape[1:], np.float32), np.float32(1)
    for _ in range(15):
        step *= np.float32(0.5)
        trial = some * np.stack([np.ones_like(share), share + step, share + step])
        share = np.where(outside(linear(trial, from_lms)), share, share + step)
    rgb[:, far] = linear(some * np.stack([np.ones_like(share), share, share]), from_lms)[:, 0]
    code = transfer.encode(output.curve, np.clip(rgb, 0, 1)).astype(np.float32)
    return np.moveaxis((code * 255 + np.float32(0.5)).astype(np.uint8), 0, -1)
