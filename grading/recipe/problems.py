"""The problems that a model finds in a recipe, in plain words."""

import re
from collections.abc import Iterable
from math import isfinite

from pydantic import ValidationError

from grading.colour.hue_words import hue_words
from grading.colour.munsell import FAMILIES
from grading.errors import MAX_ERRORS, RecipeError
from grading.messages import nearest, shortened
from grading.recipe.keys import allowed, in_yaml, kinds, node_at, properties, recipe_root

NAME = "NAME"
"""A placeholder for a name of the writer's own."""

_MEANT = {
    "brightness": "exposure.stops",
    "curve": "tone_curve",
    "noise": "denoise",
    "noise_reduction": "denoise",
    "rotate": "framing.straighten",
    "rotation": "framing.straighten",
    "sharpen": "deblur",
    "sharpening": "deblur",
    "sharpness": "deblur",
    "temperature": "white_balance.kelvin",
    "tint": "white_balance.duv",
}
"""What states a thing that has another name in the trade, too (common practice, no source)."""

_WRONG_TYPE = {
    "float_type": "not a number",
    "finite_number": "not a finite number",
    "int_type": "not a whole number",
    "list_type": "not a list",
}

_SWITCH = {"yes": "true", "on": "true", "no": "false", "off": "false"}
"""What YAML 1.1 took for true and false, and YAML 1.2 takes for text."""

_BEYOND = {"le": "more than", "ge": "less than", "gt": "not above"}


def recipe_error(
    validation_error: ValidationError,
    data: dict,
    positions: dict,
    place: str,
    root: dict | None = None,
) -> RecipeError:
    """One error that lists the problems, a line each, in the order of the text, the first twenty.

    Parameters
    ----------
    validation_error : pydantic.ValidationError
    data : dict
        What was validated.
    positions : dict
        From path to `grading.yaml_text.EntryPosition`; may be empty.
    place : str
        What is named where there is no position.
    root : dict, optional
        Schema node of the whole text, as `grading.recipe.keys.linked` gives it; that of a recipe
        unless given.

    Returns
    -------
    RecipeError
    """
    root, problems = root or recipe_root(), {}
    for detail in validation_error.errors(include_url=False):
        problems.setdefault(_path_in(data, detail), detail)
    in_order = sorted(problems, key=lambda path: _stated(positions, path)[1] or ("", 0, 0))
    errors = []
    for path in in_order[:MAX_ERRORS]:
        words, limits, remedy = _problem(problems[path], path, root)
        where = str(_position(positions, path, data, root) or place)
        errors.append(RecipeError(words, place=where, allowed=limits, remedy=remedy))
    return RecipeError.together(errors, more=len(in_order) - len(errors))


def _path_in(data, detail):
    """The location without the names that a model gives to alternatives of a type."""
    path, here = [], data
    for step in detail["loc"]:
        inside = isinstance(here, dict) and step in here
        if not inside and not (isinstance(here, list) and isinstance(step, int)):
            return (*path, step) if detail["type"] == "missing" else tuple(path)
        path.append(step)
        here = here[step]
    return tuple(path)


def _stated(positions, path):
    """What of a path is stated, and the place of its key."""
    while path and path not in positions:
        path = path[:-1]
    return path, positions[path].key if path in positions else None


def _position(positions, path, data, root):
    """Where a path is stated: an unknown key, or one that lacks something, at its key."""
    path, key = _stated(positions, path)
    if key is None:
        return None
    value = data
    for step in path:
        value = value[step] if not isinstance(value, dict) else value.get(step)
    return key if isinstance(value, dict) or not node_at(path, root) else positions[path].value


def _problem(detail, path, root):
    """Problem, what is allowed, and what to do."""
    name = dotted(path)
    node = node_at(path, root)
    value = detail["input"]
    limits = allowed(node) if node else None
    match detail["type"]:
        case "extra_forbidden":
            return _unknown(path, root)
        case "missing":
            return f"{name} is missing", limits, "state it"
        case "greater_than_equal" | "greater_than" | "less_than_equal":
            ((bound, limit),) = detail["ctx"].items()
            words = f"{_BEYOND[bound]} {limit:g}"
        case "float_type" if _is_number_in_quotes(value):
            return f"{name} = '{shortened(value)}': text", limits, "leave out the quotes"
        case "value_error":
            return _rule(detail, name, value, node)
        case "too_short" | "too_long":
            words = f"a list of {len(value)}" if value else "an empty list"
        case "string_type":
            remedy = None if isinstance(value, list | dict) else "put it in quotes"
            return f"{name} = {in_yaml(value)}: not text", limits, remedy
        case "model_type" | "dict_type" | "model_attributes_type":
            return f"{name} = {in_yaml(value)}: needs keys under it", limits, _indent(path, node)
        case "bool_type":
            meant = _SWITCH.get(str(value).casefold())
            words = "not true" if limits == "true" else "neither true nor false"
            return f"{name} = {in_yaml(value)}: {words}", limits, meant and f"write {meant}"
        case kind:
            words = _WRONG_TYPE.get(kind, "not possible")
    return f"{name} = {in_yaml(value)}: {words}", limits, _number_meant(value)


def _rule(detail, name, value, node):
    """A rule that a model states itself; it says what to do in its own words."""
    reason = str(detail["ctx"]["error"])
    problem, _, limits = reason.partition("; allowed: ")
    if limits:
        limits = allowed(node) or limits
        return f"{name} = {in_yaml(value)}: {problem}", limits, _hue_meant(value)
    return f"{name}: {problem}", None, None


def _hue_meant(value):
    """What to write for a Munsell hue that is misspelt, or for a word."""
    match = re.fullmatch(r"(\d+(?:\.\d+)?)?\s*([A-Za-z]+)", value.strip())
    family = match and (match[1] or len(match[2]) < 3)
    close = nearest(match[2].upper(), FAMILIES, 0.5) if family else None
    if not close:
        return _of_word(value.strip().casefold())
    step = match[1] or ""
    if step and float(step) > 10:
        return f"the step before {close} goes from 0 to 10"
    return f"did you mean {step}{close}?"


def _of_word(word):
    """Where a colour word lies, or where all of them do."""
    words = {each.word: each for each in hue_words()}
    meant = words.get(word) or words.get(nearest(word, words))
    if meant:
        return f"{meant.word} lies near {meant.degrees} degrees, {meant.munsell}"
    plain = ", ".join(f"{each} {words[each].degrees}" for each in words if " " not in each)
    return f"near these degrees lie {plain}; `grading explain hues` lists more"


def _unknown(path, root):
    parent, key = node_at(path[:-1], root), path[-1]
    known = list(properties(parent))
    if path[0] == "local" and len(path) == 3 and key in properties(root):
        return f"{dotted(path)}: only for the whole frame", ", ".join(known), None
    close = nearest(key, known)
    remedy = _elsewhere(path, root) or (f"did you mean {close}?" if close else None)
    return f"{dotted(path)}: unknown key", ", ".join(known), remedy


def _elsewhere(path, root):
    """Where a key belongs that is stated outside of the stage, or the name, that has it."""
    if path[-1] in _MEANT:
        return meant_by(path[-1])
    places = holders(path[-1], node_at(path[:-1], root))
    return f"it belongs below {' or '.join(places)}, indented" if places else None


def meant_by(word: str) -> str | None:
    """What to look up for a thing that has another name here, or None."""
    meant = _MEANT.get(word)
    return f"{meant} states it; see `grading explain {meant}`" if meant else None


def holders(key: str, root: dict) -> list[str]:
    """The keys of a schema node below which there is one of this name."""
    return [
        name
        for name in properties(root)
        if any(key in properties(node_at(above, root)) for above in ((name,), (name, NAME)))
    ]


def _indent(path, node):
    keys = list(next((kind.get("properties", {}) for kind in kinds(node)), {}))
    example = f"{keys[0]}: …" if keys else "a name of your own, with a colon,"
    return f"write {example} on a line of its own below {shortened(str(path[-1]))}, indented"


def _number_meant(value):
    """What to write for text such as ``5600K``, ``0,5``, ``20 %`` or a number after a dash."""
    if not isinstance(value, str):
        return None
    match = re.fullmatch(r"([-+−–]?)\s*(\d+(?:[.,]\d+)?|[.,]\d+)(?!\d)([^\d,.]*)", value.strip())
    if not match:
        return None
    sign, digits, rest = match.groups()
    number = float(digits.replace(",", ".")) / (100 if rest.lstrip().startswith("%") else 1)
    if not isfinite(number):
        return None
    return f"write {number if sign in ('', '+') else -number:g}"


def _is_number_in_quotes(value):
    if not isinstance(value, str):
        return False
    try:
        return isfinite(float(value))
    except ValueError:
        return False


def dotted(path: Iterable[str | int]) -> str:
    """A path as it is spoken of: ``local.sky.where.all[0].ellipse``; a long name shortened."""
    text = ""
    for step in path:
        step = step if isinstance(step, int) else shortened(step)
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text or "the recipe"
