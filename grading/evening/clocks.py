"""Clocks of cameras that were wrong: what is added to their times, so that sets interleave."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from datetime import timedelta

from grading.errors import RecipeError
from grading.frame import Capture
from grading.messages import listed, nearest, shortened

_OFFSET = re.compile(r"([+-])(\d+):([0-5]\d)(?::([0-5]\d))?")


def offset(text: str) -> timedelta:
    """The time that a text states.

    Raises
    ------
    ValueError
        If it states none, or one of 100 days or more.

    Examples
    --------
    >>> offset("-1:03:20").total_seconds()
    -3800.0
    """
    match = _OFFSET.fullmatch(text)
    if not match or int(match[2]) >= 2400:
        raise ValueError(f"{shortened(text)} is no time to add, such as +1:00 or -0:03:20")
    hours, minutes, seconds = (int(part or 0) for part in match.groups()[1:])
    found = timedelta(hours=hours, minutes=minutes, seconds=seconds)
    return -found if match[1] == "-" else found


def check_offset(text: str) -> str:
    """A text that states a time to add, as it is; otherwise as `offset`."""
    offset(text)
    return text


def check_clocks(
    clocks: Mapping[str, str], captures: Iterable[Capture], place: Callable[..., str]
) -> None:
    """Refuse a clock of a camera that took none of the frames.

    Parameters
    ----------
    clocks : mapping
        From a camera's model to what is added.
    captures : iterable of Capture
        Of all frames.
    place : callable
        Gives the place of a value in the shoot file.

    Raises
    ------
    RecipeError
    """
    models = sorted({capture.model for capture in captures if capture.model})
    for model in clocks:
        if model not in models:
            close = nearest(model, models)
            raise RecipeError(
                f"clocks: no frame is of a camera {shortened(model)}",
                place=place("clocks", model),
                allowed=listed(models) or None,
                remedy=f"did you mean {close}?" if close else None,
            )
