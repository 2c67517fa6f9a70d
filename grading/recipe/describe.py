"""What a recipe can state, and what it states: schema, `explain` and `check`."""

from __future__ import annotations

import json
from itertools import combinations
from math import inf
from pathlib import Path
from textwrap import fill, indent
from typing import TYPE_CHECKING

from grading.colour.hue_words import hue_words
from grading.docstrings import docstring
from grading.errors import RecipeError
from grading.masks import where
from grading.messages import nearest, shortened
from grading.recipe.keys import (
    allowed,
    in_yaml,
    kinds,
    node_at,
    properties,
    recipe_root,
    with_unit,
)
from grading.recipe.model import HEADER, documentation, model_schema, summary
from grading.recipe.problems import NAME, dotted, holders, meant_by
from grading.stages.registry import PARTS, STAGES
from grading.terminal import visible

if TYPE_CHECKING:
    from grading.recipe.load import Recipe

WIDTH = 92
_LOCAL = {stage.name: stage.through_mask for stage in STAGES if stage.local}
_WHERE = ("local", NAME, "where")


def schema() -> dict:
    """JSON schema (draft 2020-12) of a recipe file, for completion and help in an editor.

    It asks for less than `grading.recipe.load` does: a file that extends another may leave out
    what the other states, and may reset any key with ``null``.
    """
    return for_editors(model_schema(), "Grading recipe", "grading")


def for_editors(model: dict, title: str, version: str) -> dict:
    """JSON schema of files whose whole content a model describes.

    Parameters
    ----------
    model : dict
        The model's own JSON schema.
    title : str
    version : str
        The one key that every file has.
    """
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **_for_files(model, version),
        "title": title,
        "required": [version],
    }


def schema_text() -> str:
    """The schema as the text of a file."""
    return json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"


def _for_files(node, version):
    """A schema node with null allowed at each key but one, and without what only programs need."""
    if isinstance(node, list):
        return [_for_files(item, version) for item in node]
    if not isinstance(node, dict):
        return node
    left_out = {"title", "required", "exclusive", "properties"}
    if isinstance(node.get("default", 0), dict | list | None):
        left_out.add("default")
    kept = {key: _for_files(value, version) for key, value in node.items() if key not in left_out}
    if "properties" in node:
        kept["properties"] = {
            name: _for_files(value, version)
            if name == version
            else _or_null(_for_files(value, version))
            for name, value in node["properties"].items()
        }
    if isinstance(node.get("additionalProperties"), dict):
        kept["additionalProperties"] = _or_null(kept["additionalProperties"])
    if "exclusive" in node:
        pairs = {pair for group in node["exclusive"] for pair in combinations(group, 2)}
        kept["allOf"] = [{"not": _both(*pair)} for pair in sorted(pairs)]
    return kept


def _or_null(node):
    if "anyOf" in node:
        choices = [*node["anyOf"], {"type": "null"}]
        return node | {"anyOf": [c for i, c in enumerate(choices) if c not in choices[:i]]}
    notes = {key: node[key] for key in ("description", "default", "unit") if key in node}
    rest = {key: value for key, value in node.items() if key not in notes}
    return notes | {"anyOf": [rest, {"type": "null"}]}


def _both(first, second):
    something = {"not": {"type": "null"}}
    return {
        "required": [first, second],
        "properties": {first: something, second: something},
    }


def explain(name: str | None = None) -> str:
    """The pipeline, or the keys of one stage, of the masks (``where``) or one key.

    Parameters
    ----------
    name : str, optional
        A stage, ``where`` (or ``local``), or a key such as ``exposure.stops``.

    Raises
    ------
    RecipeError
        If there is no such stage or key.
    """
    if name is None:
        return _explain_pipeline()
    topic, _, key = name.partition(".")
    pages = {part.name: (documentation(part), (part.name,)) for part in PARTS}
    pages["where"] = pages["local"] = pages["masks"] = (docstring(where), _WHERE)
    if topic not in pages:
        raise _no_such(f"there is no stage {shortened(topic)}", topic, pages, _place_of(topic))
    text, path = pages[topic]
    keys = dict(_keys(path))
    if key:
        if key not in keys:
            raise _no_such(f"{topic} has no key {shortened(key)}", key, keys)
        return explain_key(name, keys[key])
    paragraphs = [text, *(explain_key(key, node) for key, node in keys.items())]
    if topic == "hues":
        paragraphs.append(_hue_table())
    if topic in _LOCAL:
        paragraphs.append(_explain_local(topic))
    return "\n\n".join(paragraphs) + "\n"


def _explain_pipeline():
    width = max(len(part.name) for part in PARTS) + 2
    lines = [
        "Light passes through the stages in this order. What is not stated changes nothing, but for"
        " denoise,",
        "which then takes colour noise out of raws that have more of it than a quiet frame, and"
        " lens, which",
        "undoes what a DNG states of its own lens.",
        "",
    ]
    for part in PARTS:
        says = summary(part).partition(": ")[2]
        local = "*" if part.name in _LOCAL else " "
        lines.append(f"{local} {part.name:{width}}{says[0].upper()}{says[1:]}")
    lines += [
        "",
        "* also in a local adjustment, through a mask:",
        "  local: {a name of your own: {where: …, exposure: …}}",
        "",
        "`grading explain STAGE` shows the keys of a stage, `grading explain where` the masks.",
    ]
    return "\n".join(lines) + "\n"


def _keys(path, inside=()):
    """Pairs of dotted key and schema node of everything below a path, each shape once."""
    node = node_at(path)
    for key, below in properties(node).items() or _named(node):
        here = (*inside, key)
        shapes = kinds(below)
        if any(map(_is_group, shapes)) and shapes != kinds(node):
            yield from _keys((*path, key), here)
        else:
            yield dotted(here), below


def _named(node):
    free = (kind.get("additionalProperties") for kind in kinds(node))
    return [(NAME, each) for each in free if each]


def _is_group(kind):
    return bool(kind.get("properties") or kind.get("additionalProperties"))


def explain_key(name: str, node: dict) -> str:
    """What a key accepts, its default, and what it is for."""
    default = node.get("default")
    if isinstance(default, float):
        default = round(default, 4)
    standard = "" if default in (None, {}, []) else f"; default {in_yaml(default)}"
    head = f"{name}: {allowed(node)}{standard}"
    return head + "\n" + indent(fill(node.get("description", ""), WIDTH - 4), "    ")


def _explain_local(name):
    whole = {key for key, _ in _keys((name,))}
    keys = [key for key, _ in _keys(("local", NAME, name))]
    which = "all of these keys" if set(keys) == whole else ", ".join(keys)
    return f"In a local adjustment: {which}."


def _hue_table():
    """Where colour words lie."""
    lines = [
        "Where words for strong colours lie (ISCC-NBS, NBS Circular 553); browns are dark oranges,",
        "olives dark yellows, pinks light reds:",
        *(f"    {each.word:16} {each.degrees:3} degrees   {each.munsell}" for each in hue_words()),
    ]
    return "\n".join(lines)


def _no_such(problem, name, names, place=None):
    close = nearest(name, names)
    return RecipeError(
        problem,
        allowed=", ".join(names),
        remedy=place or (f"did you mean {close}?" if close else None),
    )


def _place_of(word):
    """Where a word is explained that is a key of stages, or a name that things have elsewhere."""
    ways = [f"`grading explain {name}`" for name in holders(word, recipe_root())]
    return meant_by(word) or (f"see {' or '.join(ways)}" if ways else None)


def summarise(recipe: Recipe) -> str:
    """What a recipe does, a line for every stated value with its unit, and what is inherited.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    str
    """
    own = str(recipe.path)
    lines = [f"{recipe.title} ({own})"]
    if recipe.description:
        lines += indent(fill(recipe.description, WIDTH - 2), "  ").split("\n")
    if "extends" in recipe.stated:
        lines.append(f"  Extends {recipe.stated['extends']}.")
    for part in PARTS:
        if part.name in recipe.stated:
            lines.append(f"  {summary(part)}")
            lines += _stated_lines(recipe, (part.name,), recipe.stated[part.name], own)
    for name, values in recipe.stated.get("masks", {}).items():
        lines.append(f"  Mask {name}:")
        lines += _stated_lines(recipe, ("masks", name), values, own)
    for name, values in recipe.stated.get("local", {}).items():
        lines.append(f"  Local adjustment {name}:")
        lines += _stated_lines(recipe, ("local", name), values, own)
    if not recipe.stated.keys() - set(HEADER):
        lines.append("  Leaves everything alone, but for the colour noise of noisy raws.")
    return "\n".join(map(visible, lines)) + "\n"


def _stated_lines(recipe, path, value, own):
    if isinstance(value, dict):
        return [
            line
            for key, below in value.items()
            for line in _stated_lines(recipe, (*path, key), below, own)
        ]
    position = recipe.positions.get(path)
    source = ""
    if position and position.value.place != own:
        source = f"  (from {Path(position.value.place).name}:{position.value.line})"
    skip = 2 if path[0] in ("local", "masks") else 1
    return [f"    {dotted(path[skip:])}: {with_unit(value, node_at(path), inf)}{source}"]
