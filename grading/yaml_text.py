"""YAML as recipes and sidecars use it: the YAML 1.2 core schema, with the place of every value.

Only what the core schema (YAML 1.2.2, chapter 10.3) calls null, boolean, integer or float is one:
``no`` and ``on`` are words, ``1:30`` and ``2024-01-01`` are text, ``010`` is ten and ``1e3`` a
thousand. Keys are text and stand once. PyYAML's safe loader does the parsing; its YAML 1.1 rules
are replaced.
"""

import re
from pathlib import Path
from typing import NamedTuple

import yaml

from grading.errors import RecipeError
from grading.regular_file import open_regular

LARGEST = 1 << 20
"""Bytes of a file."""

DEEPEST = 40
"""Levels of nesting."""

MOST_VALUES = 50_000
"""Values in a file, counting an alias as often as it is used."""

_TAG = "tag:yaml.org,2002:"
_CORE = {
    "null": (r"~|null|Null|NULL|", "~nN"),
    "bool": (r"true|True|TRUE|false|False|FALSE", "tTfF"),
    "int": (r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+", "-+0123456789"),
    "float": (
        r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"
        r"|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)",
        "-+.0123456789",
    ),
}


class Mark(NamedTuple):
    """A place in a text, printed as ``place:line:column``; counted from 1."""

    place: str
    line: int
    column: int

    def __str__(self):
        return f"{self.place}:{self.line}:{self.column}"


class Position(NamedTuple):
    """Where a key and its value stand; in a list both are the value's."""

    key: Mark
    value: Mark


class _Loader(yaml.SafeLoader):
    """PyYAML's safe loader with the core schema, bounded in depth."""

    yaml_implicit_resolvers = {}
    depth = 0

    def compose_node(self, parent, index):
        if self.depth == DEEPEST:
            mark = self.peek_event().start_mark
            raise yaml.MarkedYAMLError(
                problem=f"nested more than {DEEPEST} levels deep", problem_mark=mark
            )
        self.depth += 1
        node = super().compose_node(parent, index)
        self.depth -= 1
        return node


class _Dumper(yaml.SafeDumper):
    """PyYAML's safe dumper, which also quotes text that the core schema would read otherwise."""

    def ignore_aliases(self, data):
        return True


for _name, (_pattern, _first) in _CORE.items():
    for _class in (_Loader, _Dumper):
        _firsts = [*_first, *([""] if _name == "null" else [])]
        _class.add_implicit_resolver(_TAG + _name, re.compile(rf"^(?:{_pattern})$"), _firsts)


def read_text(path, error=RecipeError):
    """Text of a UTF-8 file.

    Parameters
    ----------
    path : path-like
    error : type of GradingError
        What is raised.

    Raises
    ------
    GradingError
        Of type ``error``, if there is no such file, or it is too large or not UTF-8.
    """
    path = Path(path)
    try:
        with open_regular(path) as file:
            data = file.read(LARGEST + 1)
    except OSError as cause:
        missing = isinstance(cause, FileNotFoundError)
        problem = "there is no such file" if missing else f"cannot be read ({cause.strerror})"
        raise error(problem, place=str(path), remedy="check the path") from None
    if len(data) > LARGEST:
        raise error("the file is too large", place=str(path), allowed=f"up to {LARGEST} bytes")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        line = data.count(b"\n", 0, cause.start) + 1
        raise error(
            "this is not UTF-8 text", place=f"{path}:{line}", remedy="save the file as UTF-8"
        ) from None


def load_yaml(text, place, error=RecipeError):
    """Data and positions of a YAML text.

    Parameters
    ----------
    text : str
        One document.
    place : str
        The name of the text in messages, such as the file's path.
    error : type of GradingError
        What is raised.

    Returns
    -------
    data : dict, list, str, int, float, bool or None
        ``None`` for a text without a value.
    positions : dict
        From the path of each value, a tuple of keys and list indices, to its `Position`.

    Raises
    ------
    GradingError
        Of type ``error``, with file, line and column.
    """
    place = str(place)
    try:
        node = yaml.compose(text, _Loader)
        if node is None:
            return None, {}
        builder = _Builder(place, error)
        data = builder.build(node, (), _mark(place, node.start_mark))
        return data, builder.positions
    except yaml.MarkedYAMLError as cause:
        problem, remedy = _plain_words(cause)
        mark = cause.context_mark if "opened" in problem else cause.problem_mark
        raise error(problem, place=str(_mark(place, mark)), remedy=remedy) from None
    except yaml.reader.ReaderError as cause:
        line = text.count("\n", 0, cause.position) + 1
        raise error(
            f"a control character, {chr(cause.character)!r}, stands in the text",
            place=f"{place}:{line}",
            remedy="delete it",
        ) from None


def dump_yaml(data):
    """YAML text of plain data, in its own order, that `load_yaml` reads back exactly."""
    return yaml.dump(data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=96)


class _Builder:
    """Plain data from YAML nodes."""

    def __init__(self, place, error):
        self.place, self.error = place, error
        self.positions = {}

    def trouble(self, mark, problem, remedy):
        return self.error(problem, place=str(mark), remedy=remedy)

    def build(self, node, path, key_mark):
        mark = _mark(self.place, node.start_mark)
        self.positions[path] = Position(key_mark, mark)
        if len(self.positions) > MOST_VALUES:
            raise self.trouble(mark, f"more than {MOST_VALUES} values", "use fewer aliases")
        if len(path) > DEEPEST:
            raise self.trouble(mark, "an alias that contains itself", "write its value out")
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node, mark)
        if node.tag not in (_TAG + "map", _TAG + "seq"):
            raise self.trouble(mark, *_unknown_tag(node))
        if isinstance(node, yaml.SequenceNode):
            return [
                self.build(item, (*path, i), _mark(self.place, item.start_mark))
                for i, item in enumerate(node.value)
            ]
        return self._mapping(node, path)

    def _mapping(self, node, path):
        data = {}
        for key_node, value_node in node.value:
            mark = _mark(self.place, key_node.start_mark)
            if not isinstance(key_node, yaml.ScalarNode) or key_node.tag != _TAG + "str":
                remedy = "put it in quotes"
                if key_node.tag == _TAG + "int":
                    remedy += "; if a comma in a number was meant, write a point"
                raise self.trouble(mark, f"the key {_source(key_node)} is not text", remedy)
            key = self._text(key_node.value, mark)
            if key in data:
                first = self.positions[(*path, key)].key
                raise self.trouble(
                    mark,
                    f"{key} is stated twice, first in line {first.line}",
                    "keep one of the two",
                )
            data[key] = self.build(value_node, (*path, key), mark)
        return data

    def _scalar(self, node, mark):
        kind, text = node.tag.removeprefix(_TAG), node.value
        if kind == "str":
            return self._text(text, mark)
        if kind not in _CORE:
            raise self.trouble(mark, *_unknown_tag(node))
        if not re.fullmatch(_CORE[kind][0], text) or len(text) > 400:
            raise self.trouble(mark, f"{_source(node)} is no {kind}", "write a plain value")
        return _VALUES[kind](text)

    def _text(self, text, mark):
        if re.search("[\ud800-\udfff]", text):
            raise self.trouble(
                mark,
                "half of a surrogate pair, which is no character",
                r"write the character itself, or \U and eight digits",
            )
        return text


def _integer(text):
    return int(text, 0) if text[:2] in ("0o", "0x") else int(text)


def _float(text):
    return float(re.sub(r"\.(?=[inIN])", "", text))


_VALUES = {
    "null": lambda text: None,
    "bool": lambda text: text.lower() == "true",
    "int": _integer,
    "float": _float,
}


def _mark(place, mark):
    return Mark(place, mark.line + 1, mark.column + 1)


def _source(node):
    if isinstance(node, yaml.ScalarNode):
        return node.value[:60] or "(nothing)"
    return "made of several values"


def _unknown_tag(node):
    return (
        f"the tag {node.tag.replace(_TAG, '!!')} is not known here",
        "leave it out: only text, numbers, true, false, null, lists and mappings are read",
    )


_PLAIN_WORDS = (
    (r"found character '\\t'", "a tab where YAML wants spaces", "indent with spaces"),
    (
        r"mapping values are not allowed",
        "a colon where none can stand",
        "check the indentation, and put text that contains a colon in quotes",
    ),
    (r"could not find expected ':'", "a key without its colon", "write key: value"),
    (
        r"expected <block end>",
        "this line does not fit the lines above",
        "check the indentation and open quotes",
    ),
    (
        r"found unexpected end of stream|found unexpected document sep",
        "a quote is opened and never closed",
        "close it",
    ),
    (r"expected ',' or '[\]}]'", "a bracket is opened and not closed", "close it, or add a comma"),
    (r"found undefined alias", "an alias without an anchor of its name", "write the value out"),
    (r"but found another document", "a second document begins", "keep one document a file"),
    (
        r"cannot start any token",
        "a character that cannot begin a value",
        "put the value in quotes",
    ),
)


def _plain_words(cause):
    problem = f"{cause.context or ''} {cause.problem}".strip()
    for pattern, plain, remedy in _PLAIN_WORDS:
        if re.search(pattern, problem):
            return plain, remedy
    return problem, None
