"""The recipe as one model, put together from the stages' own."""

import sys
from functools import cache
from typing import Literal

from pydantic import create_model

from grading.docstrings import docstring
from grading.masks.where import Where
from grading.stages.registry import STAGES
from grading.stages.stage import Model, Stage, parameter

VERSION = 1
"""Of the recipe format."""

HEADER = ("grading", "title", "description", "extends")
"""Keys about the recipe itself; they are not inherited."""


def summary(stage: Stage) -> str:
    """First line of a stage's module docstring."""
    return documentation(stage).partition("\n")[0]


def documentation(stage: Stage) -> str:
    """A stage's module docstring."""
    return docstring(sys.modules[stage.prepare.__module__])


def _stage_keys(stages):
    return {s.name: (s.parameters, parameter(s.parameters(), summary(s))) for s in stages}


AdjustmentModel = create_model(
    "Adjustment",
    __base__=Model,
    where=(Where, parameter(..., "Where the adjustment acts.")),
    **_stage_keys(stage.through_mask for stage in STAGES if stage.local),
)

RECIPE_KEYS = _stage_keys(STAGES) | {
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
