"""Courses: recipe keys whose value runs through the evening.

A course passes through the values stated at some frames or times. Between two of them it is a
monotone cubic in capture time (Fritsch and Carlson, SIAM J. Numer. Anal. 17:238, 1980, with the
slopes of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5:300, 1984), so that it never overshoots
what is stated; before the first and after the last it stays. Kelvin runs in mired, in which equal
steps look equal, and a hue runs the shorter way round.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

import numpy as np

from grading.colour.white import kelvin_to_mired, mired_to_kelvin
from grading.errors import RecipeError
from grading.evening.captured import Captured, frame_named
from grading.messages import nearest, shortened
from grading.recipe.keys import allowed, kinds, node_at, properties

_CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")


def through(x: Sequence[float], y: Sequence[float], at: float) -> float:
    """Value of the monotone cubic through points, level beyond the first and the last.

    Parameters
    ----------
    x, y : sequence of float
        Of the points; ``x`` rises.
    at : float

    Examples
    --------
    >>> through([0, 1, 3], [0, 1, 1], 0.5), through([0, 1, 3], [0, 1, 1], 2)
    (0.5, 1.0)
    """
    if len(x) == 1:
        return float(y[0])
    x, y = np.array(x, float), np.array(y, float)
    h = np.diff(x)
    secant = np.diff(y) / h
    slope = np.concatenate([[0.0], _inner_slopes(secant, h), [0.0]])
    i = int(np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(h) - 1))
    t = float(np.clip((at - x[i]) / h[i], 0, 1))
    rise = slope[i] * (1 - t) - slope[i + 1] * t
    return float(y[i] + h[i] * t * (1 - t) * rise + (y[i + 1] - y[i]) * t * t * (3 - 2 * t))


def _inner_slopes(secant, h):
    """Weighted harmonic means of neighbouring secants; 0 where they do not go the same way."""
    before, after = secant[:-1], secant[1:]
    left, right = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    same = before * after > 0
    product = np.where(same, before * after, 1)
    return np.where(same, (left + right) * product / (left * after + right * before), 0)


@dataclass(frozen=True)
class Run:
    """A course that is settled: seconds and values of its points, in the scale in which it runs.

    Attributes
    ----------
    path : tuple of str
        The key of the recipe.
    seconds, values : tuple of float
        From the first point.
    start : datetime
        Of the first point, by the camera's clock.
    scale : {"mired", "hue", "plain"}
    """

    path: tuple[str, ...]
    seconds: tuple[float, ...]
    values: tuple[float, ...]
    start: datetime
    scale: str

    def value(self, when: datetime) -> float:
        """The key's value at a moment, in the key's own unit."""
        found = through(self.seconds, self.values, (when - self.start).total_seconds())
        if self.scale == "mired":
            return float(mired_to_kelvin(found))
        return found % 360 if self.scale == "hue" else found


def settle_course(
    key: str, at: Mapping[str, float], frames: Sequence[Captured], place: Mapping[str | None, str]
) -> Run:
    """A course with its points in order of time.

    Parameters
    ----------
    key : str
        Dotted, such as ``white_balance.kelvin``.
    at : mapping
        From a frame's name or a time of the clock to a value.
    frames : sequence of Captured
        All of the shoot, in order.
    place : mapping
        Where each of ``at`` is stated, and under None the course itself.

    Raises
    ------
    RecipeError
        If the key is not one whose value is a number, if a point is neither a frame nor a time, or
        two are at the same moment.
    """
    path = tuple(key.split("."))
    scale = _scale(key, path, place[None])
    points = {}
    for name, value in at.items():
        when = _moment(name, frames, place[name])
        if when in points:
            raise RecipeError(
                f"{shortened(name)}: two values for one moment, {when:%H:%M:%S}",
                place=place[name],
                remedy="keep one of them",
            )
        points[when] = float(value)
    start, *_ = moments = sorted(points)
    values = [points[when] for when in moments]
    if scale == "mired":
        values = kelvin_to_mired(np.array(values))
    elif scale == "hue":
        values = np.unwrap(values, period=360)
    seconds = tuple((when - start).total_seconds() for when in moments)
    return Run(path, seconds, tuple(map(float, values)), start, scale)


def _scale(key, path, place):
    node = node_at(path)
    shapes = kinds(node)
    if not any(shape.get("type") == "number" for shape in shapes):
        raise _no_number(key, path, node, place)
    if any("pattern" in shape for shape in shapes):
        return "hue"
    return "mired" if node.get("unit") == "kelvin" else "plain"


def _no_number(key, path, node, place):
    if node:
        limits = f"a key whose value is a number; {shortened(key)} takes {allowed(node)}"
        return RecipeError(f"{shortened(key)}: cannot run", place=place, allowed=limits)
    known, inside = list(properties(node_at(()))), ()
    for step in path:
        below = node_at((*inside, step))
        if not below:
            break
        known, inside = list(properties(below)), (*inside, step)
    close = nearest(path[len(inside)], known)
    return RecipeError(
        f"courses: there is no key {shortened(key)} in a recipe",
        place=place,
        allowed=", ".join(".".join((*inside, each)) for each in known) or None,
        remedy=f"did you mean {'.'.join((*inside, close))}?" if close else None,
    )


def _moment(name, frames, place):
    """When a point of a course is, by the camera's clock."""
    times = [frame.time for frame in frames]
    if None in times:
        raise RecipeError(
            "a course needs the time of every frame, and "
            f"{frames[times.index(None)].path.name} does not say it",
            place=place,
            remedy="state the key in each frame's notes instead",
        )
    if not _CLOCK.fullmatch(name):
        return frame_named(frames, name, place).time
    try:
        clock = time.fromisoformat(name.zfill(len(name) + len(name.partition(":")[0]) % 2))
    except ValueError:
        raise RecipeError(
            f"{name}: no time of the clock", place=place, allowed="00:00 to 23:59:59"
        ) from None
    middle = times[0] + (times[-1] - times[0]) / 2
    days = (middle.date() + timedelta(day) for day in (-1, 0, 1))
    return min((datetime.combine(day, clock) for day in days), key=lambda when: abs(when - middle))
