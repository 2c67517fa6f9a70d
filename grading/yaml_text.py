"""YAML as recipes and sidecars use it: the YAML 1.2 core schema, with the place of every value.

Only what the core schema (YAML 1.2.2, chapter 10.3) calls null, boolean, integer or float is one:
``no`` and ``on`` are words, ``1:30`` and ``2024-01-01`` are text, ``010`` is ten and ``1e3`` a
thousand. Keys are text and stand once. PyYAML's safe loader does the parsing; its YAML 1.1 rules
are replaced.
"""

import re
from os import PathLike
from typing import Any, NamedTuple

import yaml

from grading.errors import GradingError, RecipeError
from grading.messages import shortened
from grading.regular_file import open_regular
from grading.yaml_parser import CORE, TAG, Limits, NotYaml, Places, Position, core_schema, parse

MIB = 1 << 20

LONGEST_NUMBER = 400
"""Characters of a number."""


RECIPE = Limits(size=MIB, depth=40, values=50_000, text=MIB)

SIDECAR = Limits(size=24 * MIB, depth=50, values=100_000, text=4 * MIB)
"""Holds any recipe that loads: ten bytes a character as an escape, a line a value."""


class EntryPosition(NamedTuple):
    """Where a key and its value stand; in a list both are the value's."""

    key: Position
    value: Position


@core_schema
class _Dumper(yaml.SafeDumper):
    """PyYAML's safe dumper, which also quotes text that the core schema would read otherwise."""

    def ignore_aliases(self, data):
        return True

    def represent_str(self, data):
        """What YAML 1.1 took for line breaks is read back only as an escape in double quotes."""
        style = '"' if re.search("[\x85\u2028\u2029]", data) else None
        return self.represent_scalar(TAG + "str", data, style)


_Dumper.add_representer(str, _Dumper.represent_str)


def read_text(
    path: str | PathLike[str], error: type[GradingError] = RecipeError, limits: Limits = RECIPE
) -> str:
    """Text of a UTF-8 file.

    Parameters
    ----------
    path : path-like
    error : type of GradingError
        What is raised.
    limits : Limits

    Raises
    ------
    GradingError
        Of type ``error``, if there is no such file, or it is no regular file, too large or not
        UTF-8.
    """
    try:
        with open_regular(path) as file:
            data = file.read(limits.size + 1)
    except OSError as cause:
        missing = isinstance(cause, FileNotFoundError)
        problem = "there is no such file" if missing else f"cannot be read ({cause.strerror})"
        raise error(problem, place=str(path), remedy="check the path") from None
    if b"\0" in data[:1024]:
        raise error(
            "this is no text",
            place=str(path),
            allowed="a text file in YAML, such as a recipe",
            remedy="if it is an original, name it after the recipe",
        )
    if len(data) > limits.size:
        raise error("the file is too large", place=str(path), allowed=f"up to {limits.size} bytes")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        before = data[: cause.start].decode("utf-8-sig")
        raise error(
            "this is not UTF-8 text",
            place=str(Places(before, path).at(len(before))),
            remedy="save the file as UTF-8",
        ) from None


def load_yaml(
    text: str, place: str, error: type[GradingError] = RecipeError, limits: Limits = RECIPE
) -> tuple[Any, dict[tuple, EntryPosition]]:
    """Data and positions of a YAML text.

    Parameters
    ----------
    text : str
        One document.
    place : str
        The name of the text in messages, such as the file's path.
    error : type of GradingError
        What is raised.
    limits : Limits

    Returns
    -------
    data : dict, list, str, int, float, bool or None
        ``None`` for a text without a value.
    positions : dict
        From the path of each value, a tuple of keys and list indices, to its `EntryPosition`.

    Raises
    ------
    GradingError
        Of type ``error``, with file, line and column.
    """
    places = Places(text, place)
    try:
        node = parse(text, limits)
        if node is None:
            return None, {}
        builder = _Builder(places)
        return builder.build(node, (), builder.position(node)), builder.positions
    except NotYaml as cause:
        where = str(places.at(cause.index))
        raise error(cause.problem, place=where, remedy=cause.remedy) from None


def check_limits(data: Any, place: str | PathLike[str], limits: Limits = RECIPE) -> None:
    """Refuse plain data that is larger than a recipe may be, such as texts put together.

    Raises
    ------
    RecipeError
    """
    values = text = 0
    waiting = [(data, 1)]
    while waiting:
        value, depth = waiting.pop()
        values += 1
        inside = ()
        if isinstance(value, dict):
            text += sum(len(str(key)) for key in value)
            inside = value.values()
        elif isinstance(value, list):
            inside = value
        elif isinstance(value, str):
            text += len(value)
        waiting += [(each, depth + 1) for each in inside]
        if depth > limits.depth or values > limits.values or text > limits.text:
            raise RecipeError(
                "too large, with all that it extends",
                place=str(place),
                allowed=f"{limits.values} values, {limits.text} characters, {limits.depth} levels",
                remedy="state less",
            )


def dump_yaml(data: Any) -> str:
    """YAML text of plain data, in its own order, that `load_yaml` reads back exactly."""
    return yaml.dump(data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=96)


class _Builder:
    """Plain data from YAML nodes."""

    def __init__(self, places):
        self.places, self.positions = places, {}

    def position(self, node):
        return self.places.at(node.start_mark.index)

    def build(self, node, path, key_position):
        self.positions[path] = EntryPosition(key_position, self.position(node))
        if isinstance(node, yaml.ScalarNode):
            return _scalar(node)
        if node.tag not in (TAG + "map", TAG + "seq"):
            raise _unknown_tag(node)
        if isinstance(node, yaml.SequenceNode):
            return [
                self.build(item, (*path, i), self.position(item))
                for i, item in enumerate(node.value)
            ]
        return self._mapping(node, path)

    def _mapping(self, node, path):
        data = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode) or key_node.tag != TAG + "str":
                remedy = "put it in quotes"
                if key_node.tag == TAG + "int":
                    remedy += "; if a comma in a number was meant, write a point"
                raise _trouble(key_node, f"the key {_source(key_node)} is not text", remedy)
            key = _scalar(key_node)
            if key in data:
                first = self.positions[(*path, key)].key
                raise _trouble(
                    key_node,
                    f"{shortened(key)} is stated twice, first in line {first.line}",
                    "keep one of the two",
                )
            data[key] = self.build(value_node, (*path, key), self.position(key_node))
        return data


def _scalar(node):
    kind, text = node.tag.removeprefix(TAG), node.value
    if kind == "str":
        if re.search("[\ud800-\udfff]", text):
            raise _trouble(
                node,
                "half of a surrogate pair, which is no character",
                r"write the character itself, or \U and eight digits",
            )
        return text
    if kind not in CORE:
        raise _unknown_tag(node)
    if not re.fullmatch(CORE[kind][0], text) or len(text) > LONGEST_NUMBER:
        raise _trouble(node, f"{_source(node)} is no {kind}", "write a plain value")
    return _VALUES[kind](text)


_VALUES = {
    "null": lambda text: None,
    "bool": lambda text: text.lower() == "true",
    "int": lambda text: int(text, 0 if text[:2] in ("0o", "0x") else 10),
    "float": lambda text: float(re.sub(r"\.(?=[inIN])", "", text)),
}


def _trouble(node, problem, remedy):
    return NotYaml(problem, remedy, node.start_mark.index)


def _source(node):
    if isinstance(node, yaml.ScalarNode):
        return shortened(node.value) or "(nothing)"
    return "made of several values"


def _unknown_tag(node):
    return _trouble(
        node,
        f"the tag {shortened(node.tag.replace(TAG, '!!'))} is not known here",
        "leave it out: only text, numbers, true, false, null, lists and mappings are read",
    )
