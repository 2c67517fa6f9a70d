"""A round or oval area."""

from typing import Annotated, NamedTuple

import numpy as np
from pydantic import Field

from grading import kernels
from grading.masks.shape import Place, Shape
from grading.region import Region
from grading.stages.stage import Model, parameter


class Ellipse(Model):
    """A round or oval area, whole inside and fading outwards."""

    centre: Place = parameter(..., "[x, y] of the middle.", unit="fractions of the frame")
    radius: Annotated[
        list[Annotated[float, Field(gt=0, le=2)]], Field(min_length=2, max_length=2)
    ] = parameter(
        ...,
        "[half the width, half the height] of the oval before its turn, at half weight.",
        unit="fractions of the long edge",
    )
    turn: float = parameter(
        0.0, "Turn of the oval, anticlockwise.", unit="degrees", minimum=-180, maximum=180
    )
    feather: float = parameter(
        0.5,
        "Width of the fade about the edge; 0 is a hard edge.",
        unit="fraction of the radius",
        minimum=0,
        maximum=1,
    )


class Constants(NamedTuple):
    """Middle and radii in pixels, the turn in radians, and the fade as a fraction of the radius."""

    centre: np.ndarray
    radius: np.ndarray
    turn: float
    feather: float


def prepare(parameters: Ellipse, width: int, height: int) -> Constants:
    """The oval in pixels of the frame."""
    return Constants(
        np.array(parameters.centre) * (width, height) - 0.5,
        np.array(parameters.radius) * max(width, height),
        np.radians(parameters.turn),
        parameters.feather,
    )


def weigh(constants: Constants, region: Region) -> np.ndarray:
    """Weights of a region."""
    return kernels.mask.oval(*region, *constants)


SHAPE = Shape("ellipse", Ellipse, prepare, weigh)
