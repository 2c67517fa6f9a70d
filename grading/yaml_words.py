"""Plain words for what PyYAML says of a text that is not YAML, and what to do about it."""

import re

from grading.messages import shortened

OPEN_QUOTE = ("a quote is opened and never closed", "close it")

NO_COLON = ("a key without its colon", "write key: value")

_PLAIN_WORDS = (
    (r"found character '\\t'", "a tab where YAML wants spaces", "indent with spaces", False),
    (
        "mapping values are not allowed",
        "a colon where there can be none",
        "check the indentation, and put text that contains a colon in quotes",
        False,
    ),
    ("could not find expected ':'", *NO_COLON, True),
    (
        "expected (<block end>|'<document start>')",
        "this line does not fit the lines above",
        "check the indentation and open quotes",
        False,
    ),
    ("quoted scalar found unexpected", *OPEN_QUOTE, True),
    (
        r"expected ',' or '[\]}]'",
        "a bracket is opened and not closed",
        "close it, or add a comma",
        True,
    ),
    ("node content", "a value is missing here", "write one; put text such as ] in quotes", False),
    ("undefined alias", "an alias without an anchor of its name", "write the value out", False),
    ("duplicate anchor", "there is an anchor of this name above", "give it another name", False),
    (
        "another document",
        "a second document begins",
        "keep one document a file",
        False,
    ),
    (
        "cannot start any token",
        "a character that cannot begin a value",
        "put the value in quotes",
        False,
    ),
    ("(entries|keys) are not", "this cannot be here", "check the indentation", False),
    ("scanning an a", "no name after * or &", "put text that begins so in quotes", True),
    ("escape", "an escape that YAML does not know", r"for a backslash write \\", False),
    ("block scalar", "more than | or > in its line", "begin the text in the line below", True),
    ("directive|tag handle|YAML document", "a directive", "leave out lines with %", False),
    (" tag ", "a tag that is not valid", "put text that begins with ! in quotes", True),
)
"""What PyYAML says, in plain words, what to do, and whether its context is the place."""


def in_plain_words(problem: str) -> tuple[str, str | None, bool]:
    """What is wrong, what to do, and whether the place is that of PyYAML's context.

    Parameters
    ----------
    problem : str
        PyYAML's context and problem.

    Returns
    -------
    words : str
        Those of PyYAML, shortened, where none are known here.
    remedy : str or None
    is_at_context : bool

    Examples
    --------
    >>> in_plain_words("found undefined alias 'x'")
    ('an alias without an anchor of its name', 'write the value out', False)
    """
    for pattern, words, remedy, is_at_context in _PLAIN_WORDS:
        if re.search(pattern, problem):
            return words, remedy, is_at_context
    return shortened(problem, 160), None, False
