"""Parts of a message: a long value shortened, a long list cut, the name that was meant."""

from collections.abc import Iterable, Sequence
from difflib import get_close_matches

LONGEST_VALUE = 60
"""Characters of a value in a message."""

MAX_ITEMS = 20
"""Items of a list in a message."""


def shortened(text: str, longest: float = LONGEST_VALUE) -> str:
    """A text on one line: cut where it is long, and what does not print written as an escape.

    >>> shortened("a long name", 7)
    'a long…'
    """
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    if cut.isprintable():
        return cut
    escaped = "".join(each if each.isprintable() else repr(each)[1:-1] for each in cut)
    return escaped if len(escaped) <= longest else escaped[: longest - 1] + "…"


def listed(names: Sequence[str]) -> str:
    """Names with commas between them, the first twenty of many."""
    shown = ", ".join(shortened(name) for name in names[:MAX_ITEMS])
    more = len(names) - MAX_ITEMS
    return f"{shown} and {more} more" if more > 0 else shown


def nearest(word: str, names: Iterable[str], likeness: float = 0.6) -> str | None:
    """The name that a misspelt word is nearest to, or None; nobody misspells a long text.

    >>> nearest("exposur", ["exposure", "levels"])
    'exposure'
    """
    if len(word) > LONGEST_VALUE:
        return None
    names = [name for name in names if len(name) <= LONGEST_VALUE]
    return next(iter(get_close_matches(word, names, 1, likeness)), None)
