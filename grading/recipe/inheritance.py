"""Recipes that extend others: the chain of files, and their values merged.

Mappings merge key by key; lists and single values replace; ``null`` goes back to the default. A
recipe that states one of several ways to say a thing drops the parent's other ways.
"""

import os
from pathlib import Path

from grading.errors import RecipeError
from grading.messages import nearest, shortened
from grading.recipe.keys import child as child_node
from grading.recipe.keys import exclusive, in_yaml, recipe_root
from grading.recipe.model import HEADER, VERSION
from grading.yaml_text import load_yaml, read_text

LONGEST_CHAIN = 16
"""Files."""

_KIND = {list: "a list", str: "plain text"}

SUFFIXES = (".yaml", ".yml")


def looks_folder() -> Path:
    """The folder of the shipped looks: in the package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "looks"
    return inside if inside.is_dir() else package.parent / "recipes"


def look_names() -> list[str]:
    """Names of the shipped looks, sorted."""
    return sorted(path.stem for path in looks_folder().glob("*.yaml"))


def is_name(text: str) -> bool:
    """Whether a text is a bare name rather than a path."""
    return not (set(text) & set("/\\") or text.endswith(SUFFIXES))


def find_recipe(text: str) -> Path:
    """Path of a recipe that a command line names.

    Parameters
    ----------
    text : str
        A file, or the bare name of a shipped look.

    Raises
    ------
    RecipeError
        If it is a bare name and there is neither a file nor a look of that name.
    """
    if os.path.isfile(text) or not is_name(text):
        return Path(text)
    look = _look(text)
    if os.path.isfile(look):
        return look
    file = _nearest_file(text, Path())
    raise _no_such_look(text, None, file and f"the file {file.name}")


def parent_places(text: str, path: Path) -> list[Path]:
    """Where the recipe that another extends is looked for, in order.

    Parameters
    ----------
    text : str
        What ``extends`` states: a path relative to the recipe, or a bare name, which is that of a
        file beside the recipe, with .yaml or .yml, or else of a shipped look.
    path : Path
        The recipe that extends; a name never means itself.

    Returns
    -------
    list of Path
    """
    if not is_name(text):
        return [path.parent / text]
    beside = [path.parent / (text + suffix) for suffix in SUFFIXES]
    return [each for each in beside if not _same(each, path)] + [_look(text)]


def find_beside(text: str, path: Path, place: str, key: str = "extends") -> Path:
    """The recipe that a file names.

    Parameters
    ----------
    text : str
        As in `parent_places`.
    path : Path
        The file.
    place : str
        Where in it, for the message.
    key : str
        Of which key, likewise.

    Raises
    ------
    RecipeError
        If there is no such recipe.
    """
    places = parent_places(text, path)
    found = next(filter(os.path.isfile, places), None)
    if found:
        return found
    file = _nearest_file(Path(text).stem, places[0].parent, path)
    if is_name(text):
        raise _no_such_look(text, place, file and f"{file.stem} beside this file")
    raise RecipeError(
        f"{key} = {shortened(text)}: there is no such file",
        place=place,
        remedy=f"did you mean {file.name} there?"
        if file
        else "write a path relative to this file, or the name of a shipped look",
    )


def _look(name):
    return looks_folder() / f"{name}.yaml"


def _same(first, second):
    try:
        return os.path.samefile(first, second)
    except (OSError, ValueError):
        return False


def _nearest_file(stem, folder, apart_from=None):
    """The recipe in a folder whose name is nearest, or None."""
    try:
        paths = [path for path in folder.iterdir() if path.suffix in SUFFIXES]
    except (OSError, ValueError):
        return None
    by_stem = {path.stem: path for path in sorted(paths) if path != apart_from}
    return by_stem.get(nearest(stem, by_stem))


def _no_such_look(name, place, file):
    meant = [each for each in (nearest(name, look_names()), file) if each]
    return RecipeError(
        f"there is no look named {shortened(name)}",
        place=place,
        allowed=", ".join(look_names()),
        remedy=f"did you mean {' or '.join(meant)}?"
        if meant
        else "for a file, write its path with .yaml",
    )


def read_chain(path: Path) -> dict[Path, tuple[dict, dict]]:
    """A recipe's files, itself first, each extending the next.

    Parameters
    ----------
    path : Path

    Returns
    -------
    dict
        From the path of each file to its data and their positions.

    Raises
    ------
    RecipeError
        If a file cannot be read, is of another version, or the chain is a circle or too long.
    """
    chain, place = {}, None
    while True:
        _refuse_circle(chain, path, place)
        data, positions = chain[path] = _read(path)
        extends = data.get("extends")
        if not isinstance(extends, str):
            return chain
        place = str(positions["extends",].value)
        path = find_beside(extends, path, place)


def _read(path):
    data, positions = load_yaml(read_text(path), path)
    if data is None:
        raise RecipeError("the recipe is empty", place=str(path), remedy="begin with grading: 1")
    if not isinstance(data, dict):
        raise RecipeError(
            f"this is not a recipe but {_KIND.get(type(data), 'a single value')}",
            place=str(positions[()].value),
            allowed="keys with values",
            remedy=f"begin with grading: {VERSION}, then one stage a line",
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
    return data, positions


def _refuse_circle(before, path, place):
    names = " -> ".join(str(each) for each in [*before, path])
    if any(_same(path, each) for each in before):
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


def merge_chain(chain: dict[Path, tuple[dict, dict]]) -> tuple[dict, dict]:
    """Data and positions of a whole chain; the header is that of its first file."""
    data, positions = {}, {}
    for own_data, own_positions in reversed(chain.values()):
        body = {key: value for key, value in data.items() if key not in HEADER}
        data = merge(recipe_root(), body, own_data)
        positions |= own_positions
    return data, positions


def merge(node: dict, parent: dict, child: dict) -> dict:
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
