"""Grain: an even grain over the lightness of the picture.

Every tone gets the same grain, as the eye sees it: ``deviation`` is that of CIE lightness. It fades
only where black or white is too near for it. Hue and chroma stay. Grains lie where they lie in the
frame, so the same original always gets the same grain, and a smaller picture gets as much of it as
is left of such grains at its size.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.region import Region
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

WIDTH = 2 * np.sqrt(2 * np.log(2))
"""Width at half of its height of a Gaussian whose deviation is 1."""

PER_LIGHTNESS = 1 / 116
"""Oklab lightness for one of CIE L*, which is 116 times the cube root of luminance, less 16, for
all greys but the darkest (ISO/CIE 11664-4)."""


class Grain(Model):
    deviation: float = parameter(
        0.0,
        "Standard deviation of the grain in lightness, CIE L*.",
        unit="L*",
        minimum=0,
        maximum=10,
    )
    width: float = parameter(
        1.5,
        "Width of a grain, at half of its height.",
        unit="pixels of the original",
        minimum=1,
        maximum=12,
    )


class Constants(NamedTuple):
    """Weights of the pixels of a row or column about a grain, for numbers of deviation 1, and the
    deviation in Oklab lightness."""

    weights: np.ndarray
    deviation: np.float32


def prepare(parameters: Grain, signal: Signal) -> Constants | None:
    """Grains at the scale of the signal; None where there are none.

    >>> constants = prepare(Grain(deviation=1.16), Signal(None, "picture"))
    >>> round(float(np.square(constants.weights).sum()), 6), round(float(constants.deviation), 6)
    (1.0, 0.01)
    """
    if parameters.deviation == 0:
        return None
    spread = parameters.width / WIDTH
    weights = _gaussian(spread / signal.scale)
    whole = _gaussian(spread)
    mean = np.convolve(whole, np.full(signal.scale, 1 / signal.scale))
    left = np.sum(mean**2) / np.sum(whole**2)
    return Constants(
        np.float32(weights / np.sqrt(np.sum(weights**2))),
        np.float32(parameters.deviation * PER_LIGHTNESS * left),
    )


def _gaussian(spread):
    reach = int(np.ceil(3 * spread))
    return np.exp(-0.5 * np.square(np.arange(-reach, reach + 1) / spread))


def apply(lab: np.ndarray, constants: Constants, place: Region) -> np.ndarray:
    """A picture in Oklab with its grain."""
    return kernels.grain.add_grain(lab, place.top, place.left, *constants)


STAGE = Stage(
    "grain", ("picture",), "picture", Grain, prepare, apply, placed=True, kernels=("grain",)
)
