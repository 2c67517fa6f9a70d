"""CDL: a colour decision of the ASC (v1.2), slope, offset, power and saturation, stated or read.

Each channel becomes clamp(slope * code + offset) ** power, within 0..1, and then every colour is
moved from its luma (weights 0.2126, 0.7152, 0.0722) by ``saturation``. A decision does not state
the encoding that it was made for, so sRGB is assumed: it acts on the picture as sent to an sRGB
display (IEC 61966-2-1: BT.709 primaries, D65, codes 0 to 1), after all other stages but the
vignette: a decision made on an sRGB picture gives the same result in a recipe. Colours that sRGB
cannot show are brought in first by less chroma, as in an output file, so with a decision that
changes anything the picture stays within sRGB in every output space.

``file`` reads the numbers from ASC CDL XML (.cc, .ccc, .cdl); ``id`` picks one of several.
"""

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from grading import kernels
from grading.colour import oklab, spaces, transfer
from grading.colour.gamut import gamut
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

SPACE = spaces.SPACES["srgb"]
"""The space whose codes a decision acts on."""

TO_LAB = (oklab.XYZ_TO_LMS @ spaces.rgb_to_xyz(SPACE), oklab.LMS_TO_OKLAB)

NUMBERS = ("slope", "offset", "power", "saturation")


def _three(minimum, maximum):
    number = Annotated[float, Field(ge=minimum, le=maximum)]
    return Annotated[list[number], Field(min_length=3, max_length=3)]


class Cdl(Model):
    exclusive = tuple((source, number) for source in ("file", "id") for number in NUMBERS)

    slope: _three(0, 100) = parameter([1.0, 1.0, 1.0], "Factor on each channel's code.")
    offset: _three(-10, 10) = parameter(
        [0.0, 0.0, 0.0], "Added to each channel's code.", unit="fraction of the range of codes"
    )
    power: _three(0.01, 100) = parameter([1.0, 1.0, 1.0], "Exponent of each channel's code.")
    saturation: float = parameter(
        1.0,
        "Factor on the distance of each channel from the luma.",
        minimum=0,
        maximum=100,
    )
    file: str | None = parameter(
        None, "An ASC CDL file (.cc, .ccc, .cdl): a path relative to this recipe."
    )
    id: str | None = parameter(None, "Which correction of the file, where it holds several.")

    @model_validator(mode="after")
    def _id_with_file(self):
        if self.id is not None and self.file is None:
            raise ValueError("id goes with file: state both, or leave id out")
        return self


def prepare(parameters: Cdl, signal: Signal) -> tuple[np.ndarray, np.float32] | None:
    """Slope, offset and power as rows, float32, and the saturation; None for the identity.

    Parameters
    ----------
    parameters : Cdl
        With its numbers; `grading.recipe.load` has put those of a file in the place of its name.
    """
    if parameters == Cdl():
        return None
    sop = np.array([parameters.slope, parameters.offset, parameters.power], np.float32)
    return sop, np.float32(parameters.saturation)


def apply(lab: np.ndarray, constants: tuple[np.ndarray, np.float32]) -> np.ndarray:
    """Picture (Oklab) with the decision."""
    curve = transfer.coefficients(SPACE.transfer)
    return kernels.cdl.apply_decision(lab, *constants, gamut(SPACE.name), TO_LAB, curve)


STAGE = Stage("cdl", ("picture",), "picture", Cdl, prepare, apply, kernels=("apply_decision",))
