"""Where a local adjustment acts: shapes on the frame, what its light is, and combinations.

Coordinates are fractions of the width and height of the upright, uncropped frame, from [0, 0] at
the top left to [1, 1] at the bottom right. Angles are degrees, anticlockwise. A mask gives each
pixel a weight in 0..1.

``lightness``, ``chroma``, ``hue`` and ``detail`` read the scene light after exposure, denoise and
lift of the whole frame, before any toning and without local adjustments, whichever stages an
adjustment has. So one mask is one place for all of them. The light is smoothed along edges first:
noise does not show in a mask, and it ends where a thing ends. A fade that stops at the ridge is
``all: [{gradient: …}, {lightness: {above: 0}}]``.

A mask that several adjustments share is stated once: ``masks: {ridge: {…}}``, beside ``local``,
and ``where: {mask: ridge}`` in each.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np
from pydantic import create_model, model_validator

from grading.docstrings import docstring
from grading.masks.grow import grown
from grading.masks.registry import SHAPES
from grading.masks.shape import Ground, Mask, Shape
from grading.stages.stage import Model, parameter

_Shapes = create_model(
    "Shapes",
    __base__=Model,
    **{
        shape.name: (
            shape.parameters | None,
            parameter(None, re.split(r"[,:.]", docstring(shape.parameters))[0] + "."),
        )
        for shape in SHAPES
    },
)

_KINDS = (*(shape.name for shape in SHAPES), "all", "any", "not", "mask")


class Where(_Shapes):
    """Exactly one shape or one combination of others; grown or shrunk if so stated."""

    exclusive = (_KINDS,)

    all: list[Where] | None = parameter(
        None, "Where every one of these is: the product of their weights.", min_length=1
    )
    any: list[Where] | None = parameter(
        None, "Where at least one of these is: 1 - product of (1 - weight).", min_length=1
    )
    not_: Where | None = parameter(None, "Everywhere but here: 1 - weight.", alias="not")
    mask: str | None = parameter(None, "The name of one of the recipe's masks.")
    grow: float = parameter(
        0.0,
        "How far the mask reaches beyond what is stated; below 0 it is shrunk. Its edge is then as"
        " soft as two thousandths of the long edge.",
        unit="fraction of the long edge",
        minimum=-0.05,
        maximum=0.05,
    )

    @model_validator(mode="after")
    def _at_least_one(self):
        if all(value is None for key, value in self if key != "grow"):
            raise ValueError(f"state exactly one of {', '.join(_KINDS)}")
        return self

    @property
    def parts(self) -> tuple[Where, ...]:
        """The masks that this one combines."""
        return (*(self.all or ()), *(self.any or ()), *filter(None, [self.not_]))


def shapes_in(where: Where) -> Iterator[Shape]:
    """The shapes of a mask, however deep."""
    yield from (shape for shape in SHAPES if getattr(where, shape.name))
    for part in where.parts:
        yield from shapes_in(part)


def is_grown(where: Where) -> bool:
    """Whether a mask or a part of it is grown or shrunk."""
    return where.grow != 0 or any(map(is_grown, where.parts))


def prepare_mask(where: Where, ground: Ground) -> Mask:
    """A mask on a frame.

    Parameters
    ----------
    where : Where
        Without names of masks, which `grading.recipe.load` has replaced by what they mean.
    ground : Ground

    Returns
    -------
    Mask
    """
    if where.grow:
        within = prepare_mask(where.model_copy(update={"grow": 0.0}), ground.reduced)
        return grown(within, where.grow, ground)
    if where.not_:
        inside = prepare_mask(where.not_, ground)
        return lambda *place: 1 - inside(*place)
    if where.all or where.any:
        masks = [prepare_mask(each, ground) for each in where.all or where.any]
        if where.all:
            return lambda *place: np.prod([mask(*place) for mask in masks], axis=0)
        return lambda *place: 1 - np.prod([1 - mask(*place) for mask in masks], axis=0)
    shape = next(shape for shape in SHAPES if getattr(where, shape.name))
    return shape.mask(getattr(where, shape.name), ground)
