"""Reading the schema of a recipe, or of another file: what is allowed under a key, in words."""

from collections.abc import Iterable
from functools import cache
from itertools import islice
from math import inf
from typing import Any

from grading.messages import LONGEST_VALUE, shortened
from grading.recipe.model import model_schema


def linked(schema: dict) -> dict:
    """A JSON schema whose references are followed: a node that refers to another holds it.

    A shape that may contain itself makes a circle, so this is for looking up, not for printing.
    """
    shapes = {name: {} for name in schema.get("$defs", {})}

    def link(node):
        if isinstance(node, list):
            return [link(each) for each in node]
        if not isinstance(node, dict):
            return node
        rest = {key: link(value) for key, value in node.items() if key not in ("$ref", "$defs")}
        if "$ref" in node:
            rest["anyOf"] = [shapes[node["$ref"].rpartition("/")[2]]]
        return rest

    for name, shape in shapes.items():
        shape.update(link(schema["$defs"][name]))
    return link(schema)


@cache
def recipe_root() -> dict:
    """Schema node of a whole recipe."""
    return linked(model_schema())


def node_at(path: Iterable[str | int], root: dict | None = None) -> dict:
    """Schema node of a path of keys and list indices, ``{}`` where there is none.

    Parameters
    ----------
    path : iterable
    root : dict, optional
        Where it starts; a recipe unless given.
    """
    node = root or recipe_root()
    for step in path:
        node = child(node, step)
    return node


def child(node: dict, step: str | int) -> dict:
    """Schema node under a key or list index, ``{}`` where there is none."""
    if isinstance(step, int):
        below = (kind.get("items") for kind in kinds(node))
    else:
        below = (
            kind.get("properties", {}).get(step, kind.get("additionalProperties"))
            for kind in kinds(node)
        )
    return next(filter(None, below), {})


def kinds(node: dict) -> list[dict]:
    """What a node may be, null left out: its alternatives."""
    if "anyOf" in node:
        return [kind for each in node["anyOf"] for kind in kinds(each)]
    return [] if node.get("type") == "null" else [node]


def properties(node: dict) -> dict:
    """Keys under a node with their own nodes, a dict; empty where keys are free or none."""
    return next((kind["properties"] for kind in kinds(node) if kind.get("properties")), {})


def exclusive(node: dict) -> list:
    """Groups of keys under a node of which only one may be stated."""
    return [group for kind in kinds(node) for group in kind.get("exclusive", ())]


def allowed(node: dict, unit: str | None = None) -> str:
    """What a node accepts, in words with its unit, such as ``-10 to 10 stops``."""
    unit = node.get("unit", unit)
    return ", or ".join(_allowed_kind(kind, unit) for kind in kinds(node))


def _allowed_kind(kind, unit):
    if "const" in kind:
        return in_yaml(kind["const"])
    if "enum" in kind:
        return " or ".join(map(in_yaml, kind["enum"]))
    if "pattern" in kind:
        return kind["description"]
    match kind.get("type"):
        case "number" | "integer":
            return _range(kind) + _after(unit)
        case "string":
            return "text"
        case "boolean":
            return "true or false"
        case "array":
            return _list(kind, unit)
    if kind.get("properties"):
        keys = ", ".join(kind["properties"])
        return f"the keys {keys}" if "," in keys else f"the key {keys}"
    return "names of your own, each with " + allowed(kind["additionalProperties"])


def _range(kind):
    if "maximum" not in kind:
        return "any number"
    above = "exclusiveMinimum" in kind
    low = kind["exclusiveMinimum" if above else "minimum"]
    return f"{'above ' if above else ''}{low:g} to {kind['maximum']:g}"


def _after(unit):
    """A unit as it follows a number; a fraction is put in brackets."""
    if not unit:
        return ""
    return f" ({unit})" if unit.startswith("fraction") else f" {unit}"


def _list(kind, unit):
    item = allowed(kind["items"], unit)
    if item == "text":
        return "two names [first, last]" if kind.get("maxItems") == 2 else "a list of names"
    if kind["items"].get("type") == "array" and kind.get("maxItems") == 2:
        return f"two lists, each of {item}"
    counted = {2: "two numbers [a, b]", 3: "three numbers [r, g, b]"}.get(kind.get("maxItems"))
    return f"{counted}, each {item}" if counted else f"a list of {item}"


def with_unit(value: Any, node: dict, longest: float = LONGEST_VALUE) -> str:
    """A value as a person writes it, with its unit."""
    return in_yaml(value, longest) + ("" if isinstance(value, str) else _after(node.get("unit")))


def in_yaml(value: Any, longest: float = LONGEST_VALUE) -> str:
    """A value as YAML on one line, shortened where it is long.

    >>> in_yaml({"stops": 0.3, "points": [1.0, True, None]})
    '{stops: 0.3, points: [1, true, null]}'
    """
    limit = None if longest == inf else longest  # items, each of a character or more
    match value:
        case bool():
            text = str(value).lower()
        case None:
            text = "null"
        case float():
            text = f"{value:g}" if float(f"{value:g}") == value else repr(value)
        case list():
            text = "[" + ", ".join(in_yaml(item, longest) for item in value[:limit]) + "]"
        case dict():
            items = islice(value.items(), limit)
            text = "{" + ", ".join(f"{k}: {in_yaml(v, longest)}" for k, v in items) + "}"
        case _:
            text = str(value)
    return shortened(text, longest)
