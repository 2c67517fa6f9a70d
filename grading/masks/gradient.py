"""A straight fade from the whole effect to none."""

import numpy as np
from pydantic import model_validator

from grading import kernels
from grading.masks.shape import Ground, Mask, Place, Shape
from grading.stages.stage import Model, parameter


class Gradient(Model):
    """A straight fade at any angle, such as a graduated filter gives."""

    full: Place = parameter(
        ..., "[x, y] where the effect is whole, and beyond.", unit="fractions of the frame"
    )
    none: Place = parameter(
        ..., "[x, y] where the effect ends.", unit="fractions of the frame"
    )
    feather: float = parameter(
        1.0,
        "Share of the way between the two that the fade takes, about its middle; 0 is a hard edge.",
        unit="fraction of the way",
        minimum=0,
        maximum=1,
    )

    @model_validator(mode="after")
    def _two_places(self):
        if np.allclose(self.full, self.none, rtol=0, atol=1e-4):
            raise ValueError("full and none are the same place; a fade needs a direction")
        return self


def mask(parameters: Gradient, ground: Ground) -> Mask:
    """The mask of a fade."""
    places = (parameters.full, parameters.none)
    full, end = (np.array(place) * (ground.width, ground.height) - 0.5 for place in places)
    per_pixel = (full - end) / np.dot(full - end, full - end)
    return lambda region, light: kernels.mask.ramp(*region, end, per_pixel, parameters.feather)


SHAPE = Shape("gradient", Gradient, mask, ("gradient",))
