"""A round or oval area."""

from typing import Annotated

import numpy as np
from pydantic import Field

from grading import kernels
from grading.masks.shape import Ground, Mask, Place, Shape
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


def mask(parameters: Ellipse, ground: Ground) -> Mask:
    """The mask of an oval."""
    centre = np.array(parameters.centre) * (ground.width, ground.height) - 0.5
    radius = np.array(parameters.radius) * ground.long_edge
    turn, feather = np.radians(parameters.turn), parameters.feather
    return lambda region, light: kernels.mask.oval(*region, centre, radius, turn, feather)


SHAPE = Shape("ellipse", Ellipse, mask, ("ellipse",))
