"""Split toning: one tint for the shadows, one for the middle, one for the lights.

The scale of lightness is shared out by three weights that sum to one everywhere: with u rising
from 0 at black to 1 at white, (1 - u)^2 for the shadows, 2u(1 - u) for the middle and u^2 for
the lights. ``balance`` says at which tone shadows and lights weigh the same. Each part is moved
towards its hue by ``chroma`` and in ``lightness``, in Oklab.
"""

import numpy as np
from pydantic import model_validator

from grading import kernels
from grading.stages.levels import MIDDLE_GREY
from grading.stages.stage import Hue, Model, Stage, parameter

TABLE_SIZE = 1024


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
        "The tone at which shadows and lights weigh the same; above 0 more of the scale counts as "
        "shadow.",
        unit="stops from middle grey",
        minimum=-4,
        maximum=2,
    )


def weights(lightness, balance):
    """Weights of shadows, midtones and highlights.

    Parameters
    ----------
    lightness : ndarray, float64
        Oklab lightness; taken as 0 below 0 and as 1 above 1.
    balance : float
        Stops from middle grey.

    Returns
    -------
    ndarray, shape (3, ...), float64
        Summing to one.
    """
    crossing = np.cbrt(MIDDLE_GREY * 2.0**balance)
    u = np.clip(lightness, 0, 1) ** (np.log(0.5) / np.log(crossing))
    return np.stack([(1 - u) ** 2, 2 * u * (1 - u), u**2])


def prepare(parameters, facts):
    """Shift of L, a and b for L from 0 to 1, shape (`TABLE_SIZE` + 1, 4), float32."""
    tints = (parameters.shadows, parameters.midtones, parameters.highlights)
    if all(tint.chroma == 0 and tint.lightness == 0 for tint in tints):
        return None
    angle = np.radians([tint.hue or 0.0 for tint in tints])
    chroma = np.array([tint.chroma for tint in tints])
    shifts = np.stack(
        [
            [tint.lightness for tint in tints],
            chroma * np.cos(angle),
            chroma * np.sin(angle),
            np.zeros(3),
        ]
    )
    scale = weights(np.linspace(0, 1, TABLE_SIZE + 1), parameters.balance)
    return np.ascontiguousarray((shifts @ scale).T, np.float32)


def apply(lab, shifts):
    """Picture (Oklab) shifted by the table at its lightness."""
    return kernels.shift_by_lightness(lab, shifts)


STAGE = Stage("split_toning", "picture", SplitToning, prepare, apply)
