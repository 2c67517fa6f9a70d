"""Whether a text is a shoot file or a recipe; light enough to be asked of every recipe."""

import os
from os import PathLike

from grading.errors import RecipeError
from grading.yaml_text import load_yaml, read_text


def is_shoot(path: str | PathLike[str]) -> bool:
    """Whether a text says that it is a shoot file, and not a recipe; a broken one says nothing."""
    if not os.path.isfile(path):
        return False
    try:
        data, _ = load_yaml(read_text(path), path)
    except RecipeError:
        return False
    return isinstance(data, dict) and "shoot" in data
