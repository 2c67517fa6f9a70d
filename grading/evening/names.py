"""Names of outputs from a pattern with fields in braces, such as ``{stem}-{look}``."""

import re
from collections.abc import Mapping
from string import Formatter

FIELDS = ("stem", "look", "number", "date", "time", "mark", "delivery")
"""Facts that a pattern may name: the original's name without its ending, the look, the frame's
place in the order of capture, date (2026-11-27) and time (193005) of capture, mark, delivery."""

ALLOWED = "{stem}, {look}, {number}, {number:03}, {date}, {time}, {mark}, {delivery}"


def check_pattern(pattern: str) -> str:
    """The pattern itself, if its fields are known ones.

    Raises
    ------
    ValueError
    """
    try:
        fields = list(Formatter().parse(pattern))
    except ValueError:
        raise ValueError(f"a brace stands alone; allowed: text with {ALLOWED}") from None
    for _, name, width, conversion in fields:
        if name is None:
            continue
        if name not in FIELDS or conversion or not re.fullmatch(r"(0?[1-9])?", width):
            raise ValueError(f"{{{name}}} is no field; allowed: text with {ALLOWED}")
        if width and name != "number":
            raise ValueError(f"only {{number}} has a width; allowed: text with {ALLOWED}")
    return pattern


def filled(pattern: str, facts: Mapping[str, str | int]) -> str:
    """A pattern with the facts of a frame.

    >>> filled("{number:03}-{stem}", {"number": 7, "stem": "DSC_1"})
    '007-DSC_1'

    Raises
    ------
    KeyError
        For a field whose fact is not known of this frame.
    """
    return pattern.format_map({name: fact for name, fact in facts.items() if fact is not None})
