"""Courses: recipe keys whose value runs through the evening.

A course passes through the values stated at some frames or times. Between two of them it is a
monotone cubic in capture time, or in the measured light of the scene (Fritsch and Carlson, SIAM J.
Numer. Anal. 17:238, 1980, with the slopes of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5:300,
1984), so that it never overshoots what is stated; before the first and after the last it stays.
Kelvin runs in mired, in which equal steps look equal, and a hue runs the shorter way round.
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
from grading.evening.model import Course
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
    """A course that is settled.

    Attributes
    ----------
    path : tuple of str
        The key of the recipe.
    by : {"time", "light"}
        What it runs along.
    points : tuple of (Captured or datetime, float)
        Frames, or moments by the camera's clock, and the values there.
    scale : {"mired", "hue", "plain"}
        In which the value runs.
    place : str
        Where it is stated.
    """

    path: tuple[str, ...]
    by: str
    points: tuple[tuple[Captured | datetime, float], ...]
    scale: str
    place: str

    def value(self, frame: Captured, light: Mapping[str, float] | None = None) -> float:
        """The key's value at a frame, in the key's own unit.

        Parameters
        ----------
        frame : Captured
        light : mapping, optional
            The measured light of the scene in stops, by the names of frames; for a course by light.

        Raises
        ------
        RecipeError
            If the light of a frame that it needs is not known, or two points have the same.
        """
        known = sorted((self._where(anchor, light), value) for anchor, value in self.points)
        where, values = map(np.array, zip(*known, strict=True))
        if (np.diff(where) == 0).any():
            raise RecipeError(
                f"{shortened('.'.join(self.path))}: two points are at one and the same {self.by}",
                place=self.place,
                remedy="keep one of them",
            )
        if self.scale == "mired":
            values = kelvin_to_mired(values)
        elif self.scale == "hue":
            values = np.unwrap(values, period=360)
        found = through(where, values, self._where(frame, light))
        if self.scale == "mired":
            return float(mired_to_kelvin(found))
        return found % 360 if self.scale == "hue" else found

    def _where(self, anchor, light):
        """Seconds of the clock, or stops of light."""
        if self.by == "time":
            when = anchor if isinstance(anchor, datetime) else anchor.moment
            return (when - datetime(1970, 1, 1)).total_seconds()
        if anchor.name not in light:
            raise RecipeError(
                f"the light of frame {anchor.name} could not be measured",
                place=self.place,
                remedy="state the course by time, or leave that frame out",
            )
        return light[anchor.name]


def settle_course(
    key: str, course: Course, frames: Sequence[Captured], place: Mapping[str | None, str]
) -> Run:
    """A course with what its points stand for.

    Parameters
    ----------
    key : str
        Dotted, such as ``white_balance.kelvin``.
    course : Course
        As the shoot file states it.
    frames : sequence of Captured
        All of the shoot, in order.
    place : mapping
        Where each of ``at`` is stated, and under None the course itself.

    Raises
    ------
    RecipeError
        If the key is not one whose value is a number, or a point is neither a frame nor a time.
    """
    path = tuple(key.split("."))
    scale = _scale(key, path, place[None])
    points = tuple(
        (_anchor(name, course.by, frames, place[name]), float(value))
        for name, value in course.at.items()
    )
    return Run(path, course.by, points, scale, place[None])


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


def _anchor(name, by, frames, place):
    """The frame of a name, or the moment by the camera's clock."""
    if by == "light":
        return frame_named(frames, name, place)
    times = [frame.moment for frame in frames]
    if None in times:
        raise RecipeError(
            "a course needs the time of the frames, and none says it",
            place=place,
            remedy="state the key in each frame's notes instead",
        )
    if _CLOCK.fullmatch(name):
        return _moment(name, times, place)
    return frame_named(frames, name, place)


def _moment(name, times, place):
    """The moment of a time of the clock, on the day that is nearest to the middle of the set."""
    hours, _, rest = name.partition(":")
    try:
        clock = time.fromisoformat(f"{hours.zfill(2)}:{rest}")
    except ValueError:
        raise RecipeError(
            f"{name}: no time of the clock", place=place, allowed="00:00 to 23:59:59"
        ) from None
    middle = times[0] + (times[-1] - times[0]) / 2
    days = (middle.date() + timedelta(day) for day in (-1, 0, 1))
    return min((datetime.combine(day, clock) for day in days), key=lambda when: abs(when - middle))
