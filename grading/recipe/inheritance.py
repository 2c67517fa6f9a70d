"""Recipes that extend others: the chain of files, and their values merged.

Mappings merge key by key; lists and single values replace; ``null`` goes back to the default. A
recipe that states one of several ways to say a thing drops the parent's other ways.
"""

import hashlib
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from grading.errors import RecipeError
from grading.recipe.keys import child as child_node
from grading.recipe.keys import exclusive, in_yaml
from grading.recipe.model import HEADER, VERSION, model_schema
from grading.yaml_text import load_yaml, read_text

LONGEST_CHAIN = 16

SUFFIXES = (".yaml", ".yml")


@dataclass(frozen=True)
class Source:
    """One file of a chain."""

    path: Path
    data: dict
    positions: dict
    digest: bytes


def looks_folder():
    """The folder of the shipped looks: in the package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "looks"
    return inside if inside.is_dir() else package.parent / "recipes"


def look_names():
    """Names of the shipped looks, sorted."""
    return sorted(path.stem for path in looks_folder().glob("*.yaml"))


def is_name(text):
    """Whether a text names a shipped look rather than a file."""
    return not (set(text) & set("/\\") or text.endswith(SUFFIXES))


def find_recipe(text, folder, place=None):
    """Path of a recipe stated as the name of a shipped look or as a path.

    Parameters
    ----------
    text : str
        A bare name, or a path relative to ``folder``.
    folder : Path
    place : str, optional
        Where it was stated.

    Raises
    ------
    RecipeError
        If there is no look of that name.
    """
    if not is_name(text):
        return folder / text
    path = looks_folder() / f"{text}.yaml"
    if path.is_file():
        return path
    close = get_close_matches(text, look_names(), 1)
    hint = f"did you mean {close[0]}?" if close else "for a file, write its path with .yaml"
    raise RecipeError(
        f"there is no look named {text}",
        place=place,
        allowed=", ".join(look_names()),
        remedy=hint,
    )


def read_chain(path):
    """A recipe's files, itself first, each extending the next.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of Source

    Raises
    ------
    RecipeError
        If a file cannot be read, is of another version, or the chain is a circle or too long.
    """
    chain, place = [], None
    while True:
        _refuse_circle([source.path for source in chain], path, place)
        source = _read(path)
        chain.append(source)
        extends = source.data.get("extends")
        if not isinstance(extends, str):
            return chain
        place = str(source.positions["extends",].value)
        path = find_recipe(extends, path.parent, place)
        if not path.is_file():
            raise RecipeError(
                f"extends = {extends}: there is no such file",
                place=place,
                remedy="write a path relative to this recipe, or the name of a shipped look",
            )


def _read(path):
    text = read_text(path)
    data, positions = load_yaml(text, path)
    if data is None:
        raise RecipeError("the recipe is empty", place=str(path), remedy="begin with grading: 1")
    if not isinstance(data, dict):
        raise RecipeError(
            f"the recipe is {in_yaml(data)}, not keys with values",
            place=str(positions[()].value),
            remedy="begin with grading: 1, then one stage a line",
        )
    version = data.get("grading")
    if type(version) is not int or version != VERSION:
        stated = "grading" in data
        raise RecipeError(
            f"grading = {in_yaml(version)}: another version" if stated else "grading is missing",
            place=str(positions["grading",].value if stated else positions[()].value),
            allowed=f"{VERSION}",
            remedy=f"state grading: {VERSION}, the version of the recipe format",
        )
    return Source(path, data, positions, hashlib.sha256(text.encode()).digest())


def _refuse_circle(before, path, place):
    names = " -> ".join(str(each) for each in [*before, path])
    if path.resolve() in [each.resolve() for each in before]:
        raise RecipeError(
            f"recipes extend each other in a circle: {names}",
            place=place,
            remedy="take extends out of one of them",
        )
    if len(before) == LONGEST_CHAIN:
        raise RecipeError(
            f"recipes extend each other {len(before)} times: {names}",
            place=place,
            allowed=f"up to {LONGEST_CHAIN} files",
        )


def merge_chain(chain):
    """Data and positions of a whole chain; the header is that of its first file."""
    data, positions = {}, {}
    for source in reversed(chain):
        body = {key: value for key, value in data.items() if key not in HEADER}
        data = merge(model_schema(), body, source.data)
        positions = positions | source.positions
    return data, positions


def merge(node, parent, child):
    """A child's mapping laid over its parent's.

    Parameters
    ----------
    node : dict
        Schema node of the mapping.
    parent, child : dict

    Returns
    -------
    dict
        Without null.
    """
    stated = {key for key, value in child.items() if value is not None}
    dropped = {
        key for group in exclusive(node) if stated & set(group) for key in set(group) - stated
    }
    merged = {key: value for key, value in parent.items() if key not in dropped}
    for key, value in child.items():
        if value is None:
            merged.pop(key, None)
        elif isinstance(value, dict):
            before = merged.get(key)
            base = before if isinstance(before, dict) else {}
            merged[key] = merge(child_node(node, key), base, value)
        else:
            merged[key] = value
    return merged
