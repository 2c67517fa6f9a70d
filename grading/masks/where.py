"""Where a local adjustment acts: shapes on the frame, and combinations of them.

Coordinates are fractions of the width and height of the upright, uncropped frame, from [0, 0] at
the top left to [1, 1] at the bottom right. Angles are degrees, anticlockwise. A mask gives each
pixel a weight in 0..1.
"""

from __future__ import annotations

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from grading import kernels
from grading.stages.stage import Model, parameter

Place = Annotated[
    list[Annotated[float, Field(ge=-1, le=2)]], Field(min_length=2, max_length=2)
]
"""[x, y] that may lie outside of the frame."""


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

    def weights(self, width, height, y0, y1, x0, x1):
        start, end = (np.array(p) * (width, height) - 0.5 for p in (self.full, self.none))
        way = (start - end) / np.dot(start - end, start - end)
        return kernels.ramp(y0, y1, x0, x1, end, way, self.feather)


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

    def weights(self, width, height, y0, y1, x0, x1):
        centre = np.array(self.centre) * (width, height) - 0.5
        radius = np.array(self.radius) * max(width, height)
        return kernels.oval(y0, y1, x0, x1, centre, radius, np.radians(self.turn), self.feather)


class Where(Model):
    """Exactly one shape or one combination of others."""

    exclusive = (("gradient", "ellipse", "all", "any", "not"),)

    gradient: Gradient | None = parameter(None, "A straight fade at any angle.")
    ellipse: Ellipse | None = parameter(None, "A round or oval area.")
    all: list[Where] | None = parameter(
        None, "Where every one of these is: the product of their weights.", min_length=1
    )
    any: list[Where] | None = parameter(
        None, "Where at least one of these is: 1 - product of (1 - weight).", min_length=1
    )
    not_: Where | None = parameter(None, "Everywhere but here: 1 - weight.", alias="not")

    @model_validator(mode="after")
    def _at_least_one(self):
        shapes = (self.gradient, self.ellipse, self.all, self.any, self.not_)
        if all(shape is None for shape in shapes):
            raise ValueError("state exactly one of gradient, ellipse, all, any, not")
        return self

    def weights(self, width, height, y0, y1, x0, x1):
        """Weights of rows y0:y1 and columns x0:x1 of a frame.

        Returns
        -------
        ndarray, shape (y1 - y0, x1 - x0), float32 in 0..1
        """
        tile = (width, height, y0, y1, x0, x1)
        if self.all:
            return np.prod([part.weights(*tile) for part in self.all], axis=0)
        if self.any:
            return 1 - np.prod([1 - part.weights(*tile) for part in self.any], axis=0)
        if self.not_:
            return 1 - self.not_.weights(*tile)
        return (self.gradient or self.ellipse).weights(*tile)
