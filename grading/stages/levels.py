"""Levels: which scene light becomes black and which becomes white.

Both ends are stated in stops from middle grey (0.18 of white). Light at ``black`` becomes 0 and
light at ``white`` becomes 1; between them the light is stretched evenly, the same in each
channel. A raised black point takes haze out of the distance.

Which ends to move: these here correct the scene, such as haze or a frame that reaches no white, and
change all tones by one factor. ``black`` and ``white`` of ``tone_curve`` say how much of the scene
the picture shows, and leave middle grey and its contrast alone. A look usually states the latter.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.colour.spaces import MIDDLE_GREY
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

WHITE_STOPS = float(np.log2(1 / MIDDLE_GREY))


class Levels(Model):
    black: float | None = parameter(
        None,
        "Stops below middle grey (a negative number) that become black; absent: black stays where"
        " it is, at no light.",
        unit="stops",
        minimum=-14,
        maximum=-1,
    )
    white: float | None = parameter(
        None,
        f"Stops above middle grey that become white; absent: white stays where it is, at "
        f"{WHITE_STOPS:.2f} stops.",
        unit="stops",
        minimum=0.5,
        maximum=8,
    )


class Constants(NamedTuple):
    """An affine function of linear light: light * gain + offset."""

    gain: np.float32
    offset: np.float32


def prepare(parameters: Levels, signal: Signal) -> Constants | None:
    """The affine function that takes black to 0 and white to 1, in linear light.

    >>> gain, offset = prepare(Levels(white=1.0), None)
    >>> round(float(gain * np.float32(0.36) + offset), 6)
    1.0
    """
    if parameters.black is None and parameters.white is None:
        return None
    black = 0.0 if parameters.black is None else MIDDLE_GREY * 2.0**parameters.black
    white = 1.0 if parameters.white is None else MIDDLE_GREY * 2.0**parameters.white
    gain = 1 / (white - black)
    return Constants(np.float32(gain), np.float32(-black * gain))


def apply(rgb: np.ndarray, constants: Constants) -> np.ndarray:
    """Scene light times the gain, plus the offset."""
    return kernels.light.affine(rgb, constants.gain, constants.offset)


def affine(constants: Constants) -> np.ndarray:
    """The function as a matrix and offset on linear light, shape (3, 4)."""
    offsets = np.full((3, 1), float(constants.offset))
    return np.hstack([float(constants.gain) * np.eye(3), offsets])


STAGE = Stage(
    "levels", ("scene",), "scene", Levels, prepare, apply,
    amplify=lambda signal, constants: signal.amplified(float(constants.gain)),
    affine=affine, kernels=("affine",), local=True,
)  # fmt: skip
