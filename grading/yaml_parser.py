"""YAML text to nodes: PyYAML's parser with the core schema, tabs where YAML 1.2 allows them, limits
that hold before anything is built, and the place of what is not YAML.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from os import PathLike
from typing import Any, NamedTuple

import yaml

from grading.yaml_words import NO_COLON, OPEN_QUOTE, in_plain_words

TAG = "tag:yaml.org,2002:"

CORE = {
    "null": (r"~|null|Null|NULL|", "~nN"),
    "bool": (r"true|True|TRUE|false|False|FALSE", "tTfF"),
    "int": (r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+", "-+0123456789"),
    "float": (
        r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?"
        r"|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)",
        "-+.0123456789",
    ),
}
"""Pattern and first characters of each kind of plain value (YAML 1.2.2, 10.3.2)."""

_BLANKS = " \t"
_BREAKS = "\r\n\x85\u2028\u2029"


class Limits(NamedTuple):
    """How large a text may be.

    Attributes
    ----------
    size : int
        Bytes of the file.
    depth : int
        Levels of nesting.
    values : int
        Values, one that an alias repeats counted as often as it is used.
    text : int
        Characters of all keys and values, counted likewise.
    """

    size: int
    depth: int
    values: int
    text: int


class Position(NamedTuple):
    """A place in a text, printed as ``place:line:column``; counted from 1."""

    place: str
    line: int
    column: int

    def __str__(self):
        return f"{self.place}:{self.line}:{self.column}"


class Places:
    """From the index of a character to its place, with lines as editors count them."""

    def __init__(self, text: str, place: str | PathLike[str]) -> None:
        self.place = str(place)
        self.starts = [0, *(match.end() for match in re.finditer(r"\r\n?|\n", text))]

    def at(self, index: int) -> Position:
        """The `Position` of a character."""
        line = bisect_right(self.starts, index)
        return Position(self.place, line, index - self.starts[line - 1] + 1)


class NotYaml(Exception):
    """What is wrong with a text, what to do, and the index of the character where."""

    def __init__(self, problem: str, remedy: str | None, index: int) -> None:
        super().__init__(problem)
        self.problem, self.remedy, self.index = problem, remedy, index


class NodeSize(NamedTuple):
    """The size of a node once its aliases are written out."""

    values: int
    text: int
    depth: int


def parse(text: str, limits: Limits) -> yaml.Node | None:
    """The node of a YAML text.

    Parameters
    ----------
    text : str
        One document.
    limits : Limits

    Returns
    -------
    yaml.Node or None
        None for a text without a value.

    Raises
    ------
    NotYaml
    """
    try:
        parser = Parser(text, limits)
    except yaml.reader.ReaderError as cause:
        raise NotYaml(
            f"there is a control character, {chr(cause.character)!r}, in the text",
            "delete it",
            cause.position,
        ) from None
    try:
        return parser.get_single_node()
    except yaml.MarkedYAMLError as cause:
        raise parser.trouble(cause) from None
    except (ValueError, OverflowError):
        raise NotYaml(
            "a number too large for a character or a version", "correct it", parser.index
        ) from None


def core_schema(kind: type) -> type:
    """A loader or dumper that also knows the plain values of the core schema."""
    for name, (pattern, first) in CORE.items():
        firsts = [*first, *([""] if name == "null" else [])]
        kind.add_implicit_resolver(TAG + name, re.compile(rf"^(?:{pattern})$"), firsts)
    return kind


@core_schema
class Parser(yaml.SafeLoader):
    """PyYAML's safe loader, as far as nodes."""

    yaml_implicit_resolvers = {}

    def __init__(self, text: str, limits: Limits) -> None:
        super().__init__(text)
        self.text, self.limits = text, limits
        self.level = self.deepest = self.values = self.characters = 0
        self.sizes = {}
        self.plain = []
        self.swallowing = None

    def compose_node(self, parent: yaml.Node | None, index: Any) -> yaml.Node:
        event = self.peek_event()
        is_key = parent is not None and index is None
        if isinstance(event, yaml.AliasEvent):
            return self._compose_alias(event, parent, index, is_key)
        values, characters, deepest = self.values, self.characters, self.deepest
        self.level += 1
        self.deepest = self.level
        self.values += not is_key
        self.characters += len(event.value) if isinstance(event, yaml.ScalarEvent) else 0
        self._check_limits(event)
        node = super().compose_node(parent, index)
        if event.anchor:
            self.sizes[id(node)] = NodeSize(
                self.values - values, self.characters - characters, self.deepest - self.level + 1
            )
        self.level -= 1
        self.deepest = max(self.deepest, deepest)
        return node

    def _compose_alias(self, event, parent, index, is_key):
        node = super().compose_node(parent, index)
        size = self.sizes.get(id(node))
        if size is None:
            raise NotYaml(
                "an alias that contains itself", "write its value out", event.start_mark.index
            )
        self.values += size.values - is_key
        self.characters += size.text
        self.deepest = max(self.deepest, self.level + size.depth)
        self._check_limits(event)
        return node

    def _check_limits(self, event):
        limits = self.limits
        if self.deepest > limits.depth:
            problem = f"nested more than {limits.depth} levels deep"
        elif self.values > limits.values:
            problem = f"more than {limits.values} values"
        elif self.characters > limits.text:
            problem = f"more than {limits.text} characters of text, aliases written out"
        else:
            return
        raise NotYaml(problem, "state less", event.start_mark.index)

    def scan_to_next_token(self) -> None:
        """Tabs are allowed between tokens, but not as indentation."""
        super().scan_to_next_token()
        while self.peek() == "\t" and self._tab_is_legal():
            self.forward(self._blanks())
            super().scan_to_next_token()

    def _tab_is_legal(self):
        nothing_follows = self.peek(self._blanks()) in "#\0" + _BREAKS
        return self.flow_level or nothing_follows or not self._begins_line(self.index)

    def _blanks(self):
        length = 0
        while self.peek(length) in _BLANKS:
            length += 1
        return length

    def fetch_directive(self) -> None:
        if self.indent >= 0:
            raise NotYaml("a line that begins with %", "put the text in quotes", self.index)
        super().fetch_directive()

    def _begins_line(self, index):
        while index and self.text[index - 1] in _BLANKS:
            index -= 1
        return not index or self.text[index - 1] in _BREAKS

    def scan_plain(self) -> yaml.Token:
        token = super().scan_plain()
        self.plain = [*self.plain[-1:], token]
        return token

    def scan_plain_spaces(self, indent: int, start_mark: yaml.Mark) -> list[str]:
        """Tabs may stand inside a line of plain text."""
        blanks = self.prefix(self._blanks())
        self.forward(len(blanks))
        if self.peek() in _BREAKS:
            return super().scan_plain_spaces(indent, start_mark)
        return [blanks] if blanks else []

    def scan_flow_scalar(self, style: str) -> yaml.Token:
        token = super().scan_flow_scalar(style)
        inside = self.text[token.start_mark.index : self.index]
        if re.search(r"[\r\n] *([\w.-]+:\s|[\"']$)", inside):
            self.swallowing = token
        return token

    def _key_without_colon(self, problem, at):
        """Where plain text begins that a line above was to be a key of, or None."""
        before = [token for token in self.plain if token.start_mark.index < at.index]
        if not before or not self._begins_line(before[-1].start_mark.index):
            return None
        start, end = before[-1].start_mark, before[-1].end_mark
        runs_on = "mapping values" in problem and start.line < end.line == at.line
        beside = "<block end>" in problem and start.line < at.line and start.column == at.column
        return start if runs_on or beside else None

    def trouble(self, cause: yaml.MarkedYAMLError) -> NotYaml:
        """What is wrong, in plain words."""
        problem = f"{cause.context or ''} {cause.problem}".strip()
        at, quote = cause.problem_mark, self.swallowing
        if quote and quote.end_mark.line == at.line:
            return NotYaml(*OPEN_QUOTE, quote.start_mark.index)
        without = self._key_without_colon(problem, at)
        if without:
            return NotYaml(*NO_COLON, without.index)
        words, remedy, is_at_context = in_plain_words(problem)
        mark = cause.context_mark if is_at_context else at
        return NotYaml(words, remedy, mark.index)
