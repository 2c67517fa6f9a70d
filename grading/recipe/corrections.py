"""A colour decision that a recipe names by its file, read into numbers."""

import os
from dataclasses import asdict
from pathlib import Path

from pydantic import ValidationError

from grading.cdl_text import read_decision
from grading.errors import RecipeError
from grading.messages import shortened
from grading.recipe.model import RecipeModel
from grading.recipe.problems import recipe_error
from grading.stages.cdl import Cdl
from grading.yaml_parser import Position
from grading.yaml_text import read_text


def read_correction(cdl: Cdl, position: Position) -> tuple[Cdl, str]:
    """Parameters in numbers of those that name a file.

    Parameters
    ----------
    cdl : Cdl
        With ``file``.
    position : grading.yaml_parser.Position
        Where ``file`` is stated; its path is relative to the folder of that recipe.

    Returns
    -------
    Cdl

    Raises
    ------
    RecipeError
        If there is no such file, or no correction in it that can be used.
    """
    path = Path(position.place).parent / cdl.file
    if not os.path.isfile(path):
        raise RecipeError(
            f"cdl.file = {shortened(cdl.file)}: there is no such file",
            place=str(position),
            remedy="write a path relative to this recipe",
        )
    decision = asdict(read_decision(read_text(path), str(path), cdl.id))
    numbers = {
        key: list(value) if isinstance(value, tuple) else value for key, value in decision.items()
    }
    data = {"grading": 1, "cdl": numbers}
    try:
        return RecipeModel.model_validate(data).cdl
    except ValidationError as error:
        raise recipe_error(error, data, {}, str(path)) from None
