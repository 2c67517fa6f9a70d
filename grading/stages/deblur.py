"""Deblur: the softness that lens, pixels and development leave in an original, taken back.

What one bright point becomes in an original is a spot about as wide as a pixel; ``radius`` says how
wide, and ``amount`` how much of that is undone. Colours stay, no edge rises by more than a tenth
of its height beyond itself, and places that hold no more than noise are left alone. How noisy a
raw is at every light, its own flat places tell. A JPEG or TIFF was often sharpened when it was made
and needs less. A preview at reduced size shows what remains of the effect at its size: little.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.region import Region
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

NARROWEST = 0.25
"""Deviation in pixels below which a blur makes no difference: it takes 1 % off the contrast of
lines two pixels wide."""

NOT_KNOWN = (1e-8, 0.0, 1e-4)
"""Variance of luminance where the noise is not known: 1 % of light, and a step of 8 bits in the
dark; ours."""


class Deblur(Model):
    amount: float = parameter(
        0.0, "Share of the blur that is taken back.", unit="fraction", minimum=0, maximum=1
    )
    radius: float = parameter(
        0.65,
        "How wide the blur is: standard deviation of a point's spot; 0.6 to 0.7 of a sharp lens.",
        unit="pixels of the original",
        minimum=0.3,
        maximum=1,
    )


class Constants(NamedTuple):
    """What the kernel is told, as it names it."""

    taps: np.ndarray
    amount: np.float32
    noise: np.ndarray


def prepare(parameters: Deblur, signal: Signal) -> Constants | None:
    """The blur and the noise as they are here; None where nothing would change."""
    radius = parameters.radius / signal.scale
    if parameters.amount == 0 or radius < NARROWEST:
        return None
    return Constants(
        kernels.sharpen.blur_taps(radius), np.float32(parameters.amount),
        np.float32(_luminance_noise(signal)),
    )  # fmt: skip


def _luminance_noise(signal):
    """Variance of the luminance of greys: without light, for each unit of light, for its square."""
    if signal.noise is None:
        return NOT_KNOWN
    mixing = np.array(signal.mixing)
    weights = np.square(kernels.base.LUMINANCE @ mixing)
    seen = np.maximum(np.linalg.solve(mixing, np.ones(3)), 0)
    return weights.sum() * signal.noise.offset, signal.noise.gain * (weights @ seen), 0.0


def reach(constants: Constants) -> int:
    """Pixels that the blur, and the blur of its rest, look at."""
    return kernels.sharpen.REACH


def apply(rgb: np.ndarray, constants: Constants, here: Region, there: Region) -> np.ndarray:
    """Scene light with its blur taken back."""
    weights, boundless = np.array(kernels.base.LUMINANCE), np.float32(np.inf)
    sharp = kernels.sharpen.sharpen(
        rgb, weights, constants.taps, constants.amount, constants.noise, boundless
    )
    return there.cut(sharp, here)


STAGE = Stage(
    "deblur", ("scene",), "scene", Deblur, prepare, apply,
    reach=reach, kernels=("sharpen",), local=True,
)  # fmt: skip
