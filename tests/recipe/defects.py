"""One defect of a known kind at a known place of a recipe, for checks of what errors name.

Each kind takes a line of a sound recipe and gives the damaged line, or lines, and where the
defect is: its line as an offset from the one damaged, and its column, or None where nothing
says which of several it is. It gives None where the kind does not apply to the line.
"""

import re
from typing import NamedTuple

FULL = """\
grading: 1
title: 'Ferry home'
description: >-
  The last boat: lamps stay warm, the quay goes under,
  and the sky keeps its blue.
extends: evenlight            # a look that ships

white_balance:
  shift: -20                  # mired; below 0 cooler
  kelvin: 5200
  duv: 0.002

exposure: {stops: 0.3}

lift:
  shadows: 1.0
  highlights: -0.6

tone_curve:
  contrast: 1.3
  points: [[-2, -2.2], [0, 0.1], [2, 2.1]]

split_toning:
  shadows: {hue: 5PB, chroma: 0.03}
  highlights:
    hue: 7.5YR
    chroma: 0.03

hues:
  lamps: {centre: 5YR, width: 70, saturation: 0.3}
  "deep water": {centre: 235, shift: 4,
                 saturation: 0.1}

cdl:
  slope: [1.1, 1.0, 0.9]
  saturation: 0.9

local:
  sky:
    where:
      gradient: {full: [0.5, 0], none: [0.5, 0.55]}
    exposure: {stops: -0.7}
  quay:
    where:
      all:
        - ellipse: {centre: [0.5, 0.8], radius: [0.4, 0.2]}
        - not:
            gradient: {full: [0, 0.5], none: [1, 0.5]}
    exposure:
      stops: -0.5
    hues:
      wood: {centre: 10YR, saturation: -0.2}
"""

_ENTRY = re.compile(r"(?P<indent>[ -]*)(?P<key>\w+): +(?P<value>[^#\n]*[^#\s])(?P<rest>\s*(#.*)?)$")
_SCALAR = re.compile(r"[\w.-]+")
_GROUP = re.compile(r"(?P<indent> *)(?P<key>\w+):$")


class Around(NamedTuple):
    """The lines before and after."""

    above: str
    below: str


def entry(line):
    """The parts of a line ``key: value``, and the column of its value."""
    match = _ENTRY.match(line)
    return (match, match.start("value") + 1) if match else (None, None)


def plain_entry(line):
    """Likewise where the value is a single word."""
    match, column = entry(line)
    return (match, column) if match and _SCALAR.fullmatch(match["value"]) else (None, None)


def open_quote(line, around, quote='"'):
    match, column = plain_entry(line)
    return match and (line[: column - 1] + quote + line[column - 1 :], 0, column)


def open_apostrophe(line, around):
    return open_quote(line, around, "'")


def open_quote_in_flow(line, around):
    match = re.search(r"(?<=hue: )\w|(?<=centre: )\w", line)
    return match and (line[: match.start()] + '"' + line[match.start() :], 0, match.start() + 1)


def open_bracket(line, around):
    """The last closing one left out: the first opening one is open."""
    end, start = max(line.rfind("}"), line.rfind("]")), re.search(r"[\[{]", line)
    if end < 0 or not start or "#" in line:
        return None
    return line[:end] + line[end + 1 :], 0, start.start() + 1


def extra_bracket(line, around):
    if not line.endswith(("}", "]")) or not re.search(r"[\[{]", line):
        return None
    return line + line[-1], 0, len(line) + 1


def tab_for_indentation(line, around):
    indent = _indent_of_block(line)
    return ("\t" + line.lstrip(" "), 0, 1) if indent else None


def tab_in_indentation(line, around):
    indent = _indent_of_block(line)
    return (line[:2] + "\t" + line.lstrip(" "), 0, 3) if indent >= 4 else None


def _indent_of_block(line):
    """Blanks before a key that no bracket holds."""
    in_brackets = line.count("{") != line.count("}")
    return len(line) - len(line.lstrip(" ")) if _ENTRY.match(line) and not in_brackets else 0


def no_colon(line, around):
    match, _ = plain_entry(line)
    return match and (line.replace(": ", " ", 1), 0, match.start("key") + 1)


def no_colon_after_group(line, around):
    match = _GROUP.match(line)
    return match and (line[:-1], 0, match.start("key") + 1)


def no_space_after_colon(line, around):
    match, _ = plain_entry(line)
    return match and (line.replace(": ", ":", 1), 0, match.start("key") + 1)


def no_comma(line, around):
    match = re.search(r",(?= [a-z])", line)
    if not match or "{" not in line or not line.endswith("}"):
        return None
    return line[: match.start()] + line[match.end() :], 0, None


def second_colon(line, around):
    match, column = entry(line)
    return match and (line[: column - 1] + ": " + line[column - 1 :], 0, None)


def colon_in_text(line, around):
    match, column = plain_entry(line)
    if not match:
        return None
    end = match.end("value")
    return line[:end] + ": 2" + line[end:], 0, end + 1


def too_deep(line, around):
    match, _ = entry(line)
    return _sibling(match, around.above) and (" " + line, 0, None)


def too_shallow(line, around):
    match, _ = entry(line)
    return match and match["indent"] and _sibling(match, around.above) and (line[1:], 0, None)


def too_deep_at_once(line, around):
    """The first of several: the second does not fit any more, and it is named."""
    match, _ = entry(line)
    return _GROUP.match(around.above) and match and (f" {line}\n{line}", 1, None)


def at_the_margin(line, around):
    """The last of a group, so that nothing else moves under it."""
    match, _ = plain_entry(line)
    last = match and not _sibling(match, around.below)
    return last and match["indent"] and _sibling(match, around.above) and (line.lstrip(), 0, 1)


def _sibling(match, other_line):
    other, _ = entry(other_line)
    return match and other and match["indent"].strip() == "" and other["indent"] == match["indent"]


def twice(line, around):
    match, _ = plain_entry(line)
    return match and (f"{line}\n{line}", 1, match.start("key") + 1)


def unknown_key(line, around):
    match, column = plain_entry(line)
    return match and (line.replace(match["key"], "quux", 1), 0, match.start("key") + 1)


def alias_of_nothing(line, around):
    match, column = plain_entry(line)
    return match and (line[: column - 1] + "*nowhere", 0, column)


def wrong_type(line, around):
    match, column = plain_entry(line)
    return match and (line[: column - 1] + "[maybe]", 0, column)


def no_value_character(line, around, character="@"):
    match, column = plain_entry(line)
    return match and (line[: column - 1] + character + "x", 0, column)


def backtick(line, around):
    return no_value_character(line, around, "`")


def control_character(line, around, character="\x07"):
    middle = len(line) // 2
    return line and (line[:middle] + character + line[middle:], 0, middle + 1)


def not_utf8(line, around):
    return control_character(line, around, "\udcff")


def a_list_item(line, around):
    match, _ = plain_entry(line)
    indent = match and match["indent"]
    return match and (f"{line}\n{indent}- 3", 1, len(indent) + 1)


def text_after_quote(line, around):
    match, column = plain_entry(line)
    if not match:
        return None
    return f'{line[: column - 1]}"{match["value"]}" and', 0, column + len(match["value"]) + 3


def second_document(line, around):
    return (f"{line}\n---", 1, 1) if _ENTRY.match(line) and line[0] != " " else None


def unknown_tag(line, around):
    match, column = plain_entry(line)
    return match and (f"{line[: column - 1]}!color {match['value']}", 0, column)


def unknown_escape(line, around):
    match, column = plain_entry(line)
    return match and (f'{line[: column - 1]}"\\q"', 0, column + 2)


def nested_deep(line, around):
    match, column = plain_entry(line)
    return match and (line[: column - 1] + 60 * "[" + 60 * "]", 0, None)


KINDS = (
    open_quote, open_apostrophe, open_quote_in_flow, open_bracket, extra_bracket,
    tab_for_indentation, tab_in_indentation, no_colon, no_colon_after_group, no_space_after_colon,
    no_comma, second_colon, colon_in_text, too_deep, too_shallow,
    too_deep_at_once, at_the_margin, twice, unknown_key,
    alias_of_nothing, wrong_type, no_value_character, backtick, control_character, not_utf8,
    a_list_item, text_after_quote, second_document, unknown_tag, unknown_escape, nested_deep,
)  # fmt: skip


def damaged(text):
    """Every defect of every kind in a text, each with its name, line and column."""
    lines = ["", *text.split("\n"), ""]
    for kind in KINDS:
        for i, line in enumerate(lines[1:-1]):
            found = kind(line, Around(*lines[i : i + 3 : 2]))
            if found:
                new, offset, column = found
                changed = "\n".join([*lines[1 : i + 1], new, *lines[i + 2 : -1]])
                yield f"{kind.__name__}:{i + 1}", changed, i + 1 + offset, column
