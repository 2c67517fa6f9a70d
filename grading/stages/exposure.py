"""Exposure: more or less light, in stops.

Every channel is multiplied by two to the power of ``stops``, as if the shutter had been open
for longer or shorter. Hue and saturation stay as they are.
"""

import numpy as np

from grading import kernels
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

_RANGE = dict(unit="stops", minimum=-10, maximum=10)


class Exposure(Model):
    stops: float = parameter(0.0, "Brighter above 0, darker below.", **_RANGE)
    levelling: float = parameter(
        0.0, "What evens the frame out with its set, beside stops; a shoot file's level states it.",
        **_RANGE,
    )  # fmt: skip


class LocalExposure(Model):
    stops: float = parameter(0.0, "Brighter above 0, darker below.", **_RANGE)


def prepare(parameters: Exposure, signal: Signal) -> np.float32 | None:
    """The factor on linear light, float32; None at 0 stops.

    >>> float(prepare(Exposure(stops=-1.5, levelling=0.5), None))
    0.5
    """
    return _gain(parameters.stops + parameters.levelling)


def prepare_local(parameters: LocalExposure, signal: Signal) -> np.float32 | None:
    """The factor on linear light, float32; None at 0 stops."""
    return _gain(parameters.stops)


def _gain(stops):
    return np.float32(2.0**stops) if stops else None


def apply(rgb: np.ndarray, gain: np.float32) -> np.ndarray:
    """Scene light times the factor."""
    return kernels.light.scale(rgb, gain)


def affine(gain: np.float32) -> np.ndarray:
    """The factor as a matrix and offset on linear light, shape (3, 4)."""
    return float(gain) * np.eye(3, 4)


LOCAL = Stage(
    "exposure", ("scene",), "scene", LocalExposure, prepare_local, apply, amplify=Signal.amplified
)
STAGE = Stage(
    "exposure", ("scene",), "scene", Exposure, prepare, apply,
    amplify=Signal.amplified, affine=affine, local=LOCAL,
)  # fmt: skip
