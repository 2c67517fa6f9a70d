"""The recipe as one model, put together from that of each part."""

import sys
from functools import cache
from typing import Literal

from pydantic import create_model

from grading.docstrings import docstring
from grading.masks.where import Where
from grading.stages.registry import PARTS, STAGES
from grading.stages.stage import Model, Part, Stage, parameter

VERSION = 1
"""Of the recipe format."""

HEADER = ("grading", "title", "description", "extends")
"""Keys about the recipe itself; they are not inherited."""


def summary(part: Part | Stage) -> str:
    """First line of what is said about a part."""
    return documentation(part).partition("\n")[0]


def documentation(part: Part | Stage) -> str:
    """Docstring of the module that declares a part's parameters."""
    return docstring(sys.modules[part.parameters.__module__])


def _keys(parts):
    return {p.name: (p.parameters, parameter(p.parameters(), summary(p))) for p in parts}


AdjustmentModel = create_model(
    "Adjustment",
    __base__=Model,
    where=(Where, parameter(..., "Where the adjustment acts.")),
    **_keys(stage.through_mask for stage in STAGES if stage.local),
)

RECIPE_KEYS = _keys(PARTS) | {
    "masks": (
        dict[str, Where],
        parameter({}, "Masks under names of your own, for local adjustments to share."),
    ),
    "local": (
        dict[str, AdjustmentModel],
        parameter({}, "Local adjustments, each under a name of your own, in order."),
    )
}
"""All that makes pixels: type and field of each key of a recipe but those of its header."""

RecipeModel = create_model(
    "Recipe",
    __base__=Model,
    grading=(Literal[1], parameter(..., "Version of the recipe format.")),
    title=(str | None, parameter(None, "A name for people.")),
    description=(str | None, parameter(None, "What the recipe is for, in a line or two.")),
    extends=(
        str | None,
        parameter(
            None,
            "A recipe to start from: a path relative to this file, or a name. A name is that of a"
            " file beside this one, without its .yaml, or else that of a shipped look.",
        ),
    ),
    **RECIPE_KEYS,
)


@cache
def model_schema() -> dict:
    """JSON schema of `RecipeModel`; ranges, units, defaults and docs are read from it."""
    return RecipeModel.model_json_schema(by_alias=True)
