"""What differs between two recipes, in words with units.

Recipes are compared as they act: inheritance done, defaults filled in. A difference is what one
would change in one move: a key of a stage, a tint or a hue window with all of its keys, the ways
to state one thing (kelvin, Duv, a neutral place) together, a local adjustment that only one of
the recipes has.
"""

from dataclasses import dataclass, field

from grading.recipe.keys import exclusive, in_yaml, kinds, node_at, with_unit
from grading.recipe.load import Recipe, recipe_from_mapping
from grading.recipe.model import VERSION
from grading.recipe.problems import dotted
from grading.stages.stage import MUNSELL_HUE

NOTHING = "none"
"""Printed for what a recipe does not have."""

LONGEST = 160
"""Characters of a whole adjustment in words."""

_ABSENT = object()

_ORDER = ("local",)
"""Path that denotes the order of local adjustments."""


@dataclass(frozen=True)
class Difference:
    """One move from the first recipe to the second.

    Attributes
    ----------
    name : str
        Dotted path of what differs: ``exposure.stops``, ``hues.lamps``, ``local.sky``.
    lines : tuple of str
        Each changed value with its unit: ``exposure.stops: 0.3 -> 0.8 stops (+0.5)``.
    paths : tuple of tuple
        What `with_difference` takes over from the second recipe.
    """

    name: str
    lines: tuple
    paths: tuple = field(repr=False)


def differences(first: Recipe, second: Recipe) -> list[Difference]:
    """All moves from one recipe to another.

    Parameters
    ----------
    first, second : Recipe
        As stated, or resolved for a frame.

    Returns
    -------
    list of Difference
        In pipeline order; empty if both make the same picture of any frame.
    """
    before, after = _values(first), _values(second)
    lines = {}
    for path in _differing(before, after):
        lines.setdefault(_move(path, before), []).append(
            _line(path, before, after, first, second)
        )
    found = [Difference(_name(move), tuple(words), move) for move, words in lines.items()]
    return found + _order(list(before["local"]), list(after["local"]))


def with_difference(first: Recipe, second: Recipe, difference: Difference) -> Recipe:
    """The first recipe with one difference taken over from the second.

    Returns
    -------
    Recipe
    """
    values, after = _values(first), _values(second)
    for path in difference.paths:
        if path == _ORDER:
            values["local"] = _in_order(values["local"], list(after["local"]))
        else:
            _put(_at(values, path[:-1]), path[-1], _at(after, path))
    return recipe_from_mapping({"grading": VERSION, **_stated(values)}, place=difference.name)


def _put(parent, key, value):
    if value is _ABSENT:
        del parent[key]
    else:
        parent[key] = value


def _in_order(adjustments, names):
    """Adjustments in the order of some names, those of no such name last."""
    first = {name: adjustments[name] for name in names if name in adjustments}
    return first | adjustments


def _values(recipe):
    """All values of a recipe as plain data, a fresh copy; None where none is stated."""
    local = {
        name: {"where": _stated(adjustment.where.model_dump(by_alias=True))}
        | _plain(adjustment.stages)
        for name, adjustment in recipe.local.items()
    }
    return _plain(recipe.parts) | {"local": local}


def _plain(parts):
    return {name: _in_one_way(parameters) for name, parameters in parts.items()}


def _in_one_way(parameters):
    """Plain values; where one thing is stated in one way, None for another that has a default."""
    values = parameters.model_dump(by_alias=True)
    defaults = type(parameters)().model_dump(by_alias=True) if parameters.exclusive else {}
    for group in parameters.exclusive:
        ways = [key for key in group if values[key] is not None]
        if len(ways) > 1:
            values |= {key: None for key in ways if values[key] == defaults[key]}
    return values


def _stated(values):
    """Without None, which a recipe states by silence."""
    if not isinstance(values, dict):
        return values
    return {key: _stated(value) for key, value in values.items() if value is not None}


def _at(values, path):
    for key in path:
        values = values.get(key, _ABSENT)
    return values


def _differing(before, after, path=()):
    """Paths of the least values that differ, and of mappings that only one side has."""
    for key in [*before, *(key for key in after if key not in before)]:
        old, new = before.get(key, _ABSENT), after.get(key, _ABSENT)
        if isinstance(old, dict) and isinstance(new, dict):
            yield from _differing(old, new, (*path, key))
        elif old is not new and old != new:
            yield *path, key


def _move(path, before):
    """Paths that change along with this one."""
    depth = 2
    if path[0] == "local":
        depth = 3 if "where" in path[2:3] else 4
    *parent, key = path[:depth]
    together = {key for group in exclusive(node_at(parent)) for key in group}
    if key not in together:
        return ((*parent, key),)
    return tuple((*parent, each) for each in _at(before, parent) if each in together)


def _name(move):
    return dotted(move[0]) if len(move) == 1 else dotted(move[0][:-1])


def _order(before, after):
    """The difference that common local adjustments act in another order."""
    old = [name for name in before if name in after]
    new = [name for name in after if name in before]
    if old == new:
        return []
    line = f"local: order {', '.join(old)} -> {', '.join(new)}"
    return [Difference("local", (line,), (_ORDER,))]


def _line(path, before, after, first, second):
    old, new = _at(before, path), _at(after, path)
    node = node_at(path)
    if not (_is_number(old) and _is_number(new)):
        old, new = _in_words(old, path, first), _in_words(new, path, second)
        return f"{dotted(path)}: {old} -> {new}"
    change = new - old
    if any(kind.get("pattern") == MUNSELL_HUE.pattern for kind in kinds(node)):  # it goes round
        change = (change + 180) % 360 - 180
    return f"{dotted(path)}: {old:.5g} -> {_in_words(new, path, second)} ({change:+.5g})"


def _is_number(value):
    return isinstance(value, int | float) and not isinstance(value, bool)


def _in_words(value, path, recipe):
    """A value of a recipe with its unit; of a mapping, what is not at its default."""
    if value is _ABSENT or value is None:
        return NOTHING
    if isinstance(value, dict):
        return in_yaml(_rounded(_at(recipe.as_mapping(), path)), LONGEST)
    return with_unit(_rounded(value), node_at(path))


def _rounded(value):
    """Numbers at five digits, as they are printed."""
    match value:
        case float():
            return float(f"{value:.5g}")
        case list():
            return [_rounded(each) for each in value]
        case dict():
            return {key: _rounded(each) for key, each in value.items()}
    return value
