"""Where a local adjustment acts: shapes on the frame, and combinations of them.

Coordinates are fractions of the width and height of the upright, uncropped frame, from [0, 0] at
the top left to [1, 1] at the bottom right. Angles are degrees, anticlockwise. A mask gives each
pixel a weight in 0..1.
"""

from __future__ import annotations

import numpy as np
from pydantic import create_model, model_validator

from grading.docstrings import docstring
from grading.masks.registry import SHAPES
from grading.masks.shape import Mask
from grading.stages.stage import Model, parameter

_Shapes = create_model(
    "Shapes",
    __base__=Model,
    **{
        shape.name: (
            shape.parameters | None,
            parameter(None, docstring(shape.parameters).partition(",")[0].rstrip(".") + "."),
        )
        for shape in SHAPES
    },
)


class Where(_Shapes):
    """Exactly one shape or one combination of others."""

    exclusive = ((*(shape.name for shape in SHAPES), "all", "any", "not"),)

    all: list[Where] | None = parameter(
        None, "Where every one of these is: the product of their weights.", min_length=1
    )
    any: list[Where] | None = parameter(
        None, "Where at least one of these is: 1 - product of (1 - weight).", min_length=1
    )
    not_: Where | None = parameter(None, "Everywhere but here: 1 - weight.", alias="not")

    @model_validator(mode="after")
    def _at_least_one(self):
        if all(value is None for _, value in self):
            raise ValueError(f"state exactly one of {', '.join(self.exclusive[0])}")
        return self


def prepare_mask(where: Where, width: int, height: int) -> Mask:
    """A mask for a frame of that size.

    Parameters
    ----------
    where : Where
    width, height : int

    Returns
    -------
    callable
        From a `grading.region.Region` to weights, shape (rows, columns), float32 in 0..1.
    """
    if where.not_:
        inside = prepare_mask(where.not_, width, height)
        return lambda region: 1 - inside(region)
    if where.all or where.any:
        masks = [prepare_mask(each, width, height) for each in where.all or where.any]
        if where.all:
            return lambda region: np.prod([mask(region) for mask in masks], axis=0)
        return lambda region: 1 - np.prod([1 - mask(region) for mask in masks], axis=0)
    shape = next(shape for shape in SHAPES if getattr(where, shape.name))
    return shape.mask(getattr(where, shape.name), width, height)
