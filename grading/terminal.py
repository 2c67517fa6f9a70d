"""What is printed: line by line, unable to steer a terminal, and never failing on a character."""

import re
import sys
import time
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from math import ceil
from typing import Any

_STEERING = re.compile(
    "[\0-\x1f\x7f-\x9f"  # controls of ISO/IEC 6429, line ends among them
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # directions of writing (Unicode, UAX #9)
    "\u2028\u2029"  # separators of lines and paragraphs
    "\ud800-\udfff]"  # bytes of a name that are no text
)

RECENT = 64
"""How many of the latest moments an estimate is made from."""

ENOUGH, LONG_ENOUGH = 4, 2.0
"""Moments, and seconds between the first and the last of them, that are worth an estimate."""

FOLLOWED = 0.2
"""Share of a change of the estimated end that is followed at once: a jump comes in over some ten
items, and what only wavers is not seen."""


def visible(text: object) -> str:
    """A text on one line in which every character shows as what it is.

    Parameters
    ----------
    text : object
        Anything; a name of a file, a title or a text that a file holds may have any characters.

    Returns
    -------
    str
        Controls and turns of the direction of writing are written out, as ``\\x1b`` or ``\\u202e``;
        a byte that is no text as ``\\xff``. What is written out already stays as it is.
    """
    return _STEERING.sub(_written_out, str(text))


def _written_out(match):
    code = ord(match[0])
    if 0xDC80 <= code <= 0xDCFF:  # Python's stand-in for a byte (PEP 383)
        return f"\\x{code - 0xDC00:02x}"
    return match[0].encode("unicode_escape").decode("ascii")


def say(*lines: object, error: bool = False) -> None:
    """Print lines, each of which stays one line; nothing else in the package prints text.

    Parameters
    ----------
    *lines : object
        A line end inside of one is written out: split a text of our own first.
    error : bool
        To standard error.
    """
    stream = sys.stderr if error else sys.stdout
    encoding = getattr(stream, "encoding", None) or "ascii"
    for line in lines:
        shown = visible(line).encode(encoding, "backslashreplace").decode(encoding)
        print(shown, file=stream, flush=True)


def say_document(text: str) -> None:
    """Print the text of a file (JSON, XML) as the bytes of that file, UTF-8."""
    import click

    click.echo(text.encode(), nl=False)


def progress(items: Iterable[Any], total: int, label: str) -> Iterator[Any]:
    """Pass items on as they come, with a bar on standard error while waiting for the next.

    The bar is drawn only on a terminal, and is gone while the caller has an item, so that the
    caller may print.

    Parameters
    ----------
    items : iterable
    total : int
        How many will come.
    label : str
        What is being done.

    Yields
    ------
    object
        Each item.
    """
    import click

    drawn = bool(sys.stderr) and sys.stderr.isatty()
    moments, end = deque(maxlen=RECENT), None
    with click.progressbar(
        length=total, label=label, hidden=not drawn, file=sys.stderr, width=24,
        show_pos=True, show_percent=False, show_eta=False, item_show_func=lambda words: words,
    ) as bar:  # fmt: skip
        for count, item in enumerate(items, 1):
            moments.append(time.monotonic())
            if drawn:
                print("\r" + " " * bar.max_width, end="\r", file=sys.stderr, flush=True)
            yield item
            end = steady_end(end, moments, total - count)
            bar.update(1, _left_in_words(end - moments[-1] if end and count < total else None))


def time_left(moments: Sequence[float], remaining: int) -> float | None:
    """Seconds until the rest is done, at the rate of what was done lately.

    The line through the moments is fitted by least squares, so that items that come several at a
    time, from several workers, do not shake it. What went before the first moment (the engine
    warming up, a first item that nothing overlaps) is left out.

    Parameters
    ----------
    moments : sequence of float
        Seconds on any clock at which the latest items were done, in order.
    remaining : int
        Items to do.

    Returns
    -------
    float or None
        None while there is too little for an estimate.

    Examples
    --------
    >>> time_left([0, 1, 2, 3], 10)
    10.0
    """
    if len(moments) < ENOUGH or moments[-1] - moments[0] < LONG_ENOUGH:
        return None
    from statistics import linear_regression

    return remaining * linear_regression(range(len(moments)), moments).slope


def steady_end(before: float | None, moments: Sequence[float], remaining: int) -> float | None:
    """The moment at which all will be done, following each new estimate by a share only.

    Parameters
    ----------
    before : float or None
        What it was said to be after the item before.
    moments, remaining
        As in `time_left`.

    Returns
    -------
    float or None
        On the clock of the moments; None while there is too little for an estimate.

    Examples
    --------
    >>> steady_end(20.0, [0, 1, 2, 3], 10)
    18.6
    """
    left = time_left(moments, remaining)
    if left is None:
        return before
    estimated = moments[-1] + left
    return estimated if before is None else before + FOLLOWED * (estimated - before)


def _left_in_words(seconds):
    return f"about {in_time(seconds)} left" if seconds and seconds > 0 else ""


def in_time(seconds: float) -> str:
    """A stretch of time in words, roughly.

    >>> in_time(17), in_time(130), in_time(9000)
    ('20 s', '2 min', '2 h')
    """
    for unit, length in (("h", 3600), ("min", 60)):
        if seconds >= 2 * length:
            return f"{seconds / length:.0f} {unit}"
    return f"{5 * ceil(seconds / 5)} s"
