"""Split toning: one tint for the shadows, one for the middle, one for the highlights.

Three weights, which sum to one everywhere, divide the scale of lightness: with u rising
from 0 at black to 1 at white, (1 - u)^2 for the shadows, 2u(1 - u) for the middle and u^2 for
the highlights. ``balance`` states the tone at which shadows and highlights weigh the same. Each
tone is moved towards its hue by ``chroma`` and in ``lightness``, in Oklab.
"""

import numpy as np
from pydantic import model_validator

from grading import kernels
from grading.colour.spaces import MIDDLE_GREY
from grading.signal import Signal
from grading.stages.stage import Hue, Model, Stage, parameter


class Tint(Model):
    hue: Hue | None = parameter(
        None, "Towards which hue: degrees of Oklab hue or a Munsell hue.", unit="degrees"
    )
    chroma: float = parameter(
        0.0, "How much of it is added.", unit="Oklab chroma", minimum=0, maximum=0.2
    )
    lightness: float = parameter(
        0.0, "Lighter above 0, darker below.", unit="Oklab lightness", minimum=-0.3, maximum=0.3
    )

    @model_validator(mode="after")
    def _hue_with_chroma(self):
        if self.chroma and self.hue is None:
            raise ValueError("chroma goes with hue: state towards which hue, or leave chroma out")
        return self


class SplitToning(Model):
    shadows: Tint = parameter(Tint(), "The dark part of the scale.")
    midtones: Tint = parameter(Tint(), "The middle of the scale.")
    highlights: Tint = parameter(Tint(), "The light part of the scale.")
    balance: float = parameter(
        0.0,
        "The tone at which shadows and highlights weigh the same; above 0 more of the scale "
        "counts as shadow.",
        unit="stops from middle grey",
        minimum=-4,
        maximum=2,
    )


def rise(balance: float) -> float:
    """The power of lightness that is u: 1/2 at the tone of the balance, stops from middle grey.

    >>> round(float(rise(0.0)), 4)
    1.2126
    >>> round(float(np.cbrt(MIDDLE_GREY) ** rise(0.0)), 6)
    0.5
    """
    return np.log(0.5) / np.log(np.cbrt(MIDDLE_GREY * 2.0**balance))


def prepare(parameters: SplitToning, signal: Signal) -> tuple[np.float32, np.ndarray] | None:
    """The power of lightness that is u, and the terms of the shift of (L, a, b) in 1, u and u^2.

    Returns
    -------
    (float32, ndarray) or None
        The terms have the shape (3, 3), float32: a row for each of L, a and b.
    """
    tints = (parameters.shadows, parameters.midtones, parameters.highlights)
    if all(tint.chroma == 0 and tint.lightness == 0 for tint in tints):
        return None
    angle = np.radians([tint.hue or 0.0 for tint in tints])
    chroma = np.array([tint.chroma for tint in tints])
    lightness = [tint.lightness for tint in tints]
    shifts = np.stack([lightness, chroma * np.cos(angle), chroma * np.sin(angle)])
    of_powers = np.array([[1, -2, 1], [0, 2, -2], [0, 0, 1]])
    return np.float32(rise(parameters.balance)), (shifts @ of_powers).astype(np.float32)


def apply(lab: np.ndarray, constants: tuple[np.float32, np.ndarray]) -> np.ndarray:
    """Picture (Oklab) shifted by what its lightness asks for."""
    return kernels.picture.shift_by_lightness(lab, *constants)


STAGE = Stage(
    "split_toning", ("picture",), "picture", SplitToning, prepare, apply,
    kernels=("shift_by_lightness",), local=True,
)  # fmt: skip
