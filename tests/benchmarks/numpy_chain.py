"""The same chain in plain NumPy, a whole frame at a time: what the engine is measured against.

It takes the engine's plan, so constants and guides are the same, and computes in float32 what the
compiled kernels compute, in the way one writes such a chain without thinking of caches.
"""

import numpy as np

from grading.colour import oklab, transfer
from grading.colour.gamut import gamut
from grading.kernels.diamond import diamond_degrees
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


def lift(rgb, constants, planes):
    y = np.maximum(np.tensordot(LUMINANCE, rgb, axes=1), np.float32(2.0**-16))
    base = planes[0] * np.log2(y / np.float32(0.18)) + planes[1]
    stops = constants.shadows * smooth(-base / np.float32(SHADOWS_FROM))
    stops += constants.highlights * smooth(base / np.float32(HIGHLIGHTS_FROM))
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


def guide_planes(guide, factor, height, width):
    """Planes at reduced size interpolated to the whole frame."""
    rows = np.clip((np.arange(height) + 0.5) / factor - 0.5, 0, guide.shape[1] - 1)
    columns = np.clip((np.arange(width) + 0.5) / factor - 0.5, 0, guide.shape[2] - 1)
    y, x = rows.astype(int), columns.astype(int)
    y1, x1 = np.minimum(y + 1, guide.shape[1] - 1), np.minimum(x + 1, guide.shape[2] - 1)
    v, h = np.float32(rows - y)[:, None], np.float32(columns - x)
    top = guide[:, y][:, :, x] * (1 - h) + guide[:, y][:, :, x1] * h
    bottom = guide[:, y1][:, :, x] * (1 - h) + guide[:, y1][:, :, x1] * h
    return top * (1 - v) + bottom * v


def grade(rgb, plan):
    """Camera RGB of the whole frame to Oklab, shape (3, H, W)."""
    height, width = rgb.shape[1:]
    for step in plan.steps:
        planes = None
        if step.guide is not None:
            planes = guide_planes(step.guide, plan.factor, height, width)
        after = STAGES[step.stage.name](rgb, step.constants, planes)
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
