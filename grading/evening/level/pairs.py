"""How much lighter one frame is than another, and how its colour differs, at places they share.

Log ratios of both, smoothed, at places that both can be trusted at. Passing boats, lamps that are
switched on and whatever is not where it was are outliers to the middle of the rest. A wide lens
darkens its corners, which would pass for a difference between focal lengths; how much, for each
lens and aperture, is found from all pairs together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from grading.evening.level.overlap import Placing, detail, place, refine, smoothed, warped
from grading.evening.level.robust import middle
from grading.evening.level.small import Small

AHEAD = (1, 2, 4, 7)
"""How many frames further the other of a pair is."""

LEAST_ALIKE, FEWEST = 0.4, 100
"""Correlation of detail, and places in common, below which a pair says nothing."""

MAX_PLACES = 600
RADIUS = 2


@dataclass(frozen=True)
class Pair:
    """Two frames that share places.

    Attributes
    ----------
    first, second : int
        Their numbers in the set, from 0.
    ratios : ndarray, shape (places, 3)
        log2 of the first over the second: green, red to green, blue to green.
    corners : ndarray, shape (places, 2)
        Squared distance of each place from the middle of either frame; 1 at the corners.
    """

    first: int
    second: int
    ratios: np.ndarray = field(repr=False)
    corners: np.ndarray = field(repr=False)


def find_pairs(frames: Sequence[Small], each: Callable[[Iterable], list]) -> list[Pair]:
    """All pairs of frames that are close in the order of capture and share places.

    Parameters
    ----------
    frames : sequence of Small
        In order of capture.
    each : callable
        Carries out functions, on threads perhaps, and returns what they give in order.
    """
    details = each(lambda frame=frame: detail(frame.light) for frame in frames)
    placings: dict[tuple[int, int], Placing] = {}
    found = []
    for step in AHEAD:
        numbers = [(i, i + step) for i in range(len(frames) - step)]
        guesses = [_guess(placings, *pair) for pair in numbers]
        tried = each(
            lambda pair=pair, guess=guess: _pair(frames, details, *pair, guess)
            for pair, guess in zip(numbers, guesses, strict=True)
        )
        for pair, result in zip(numbers, tried, strict=True):
            if result is not None:
                placings[pair], read = result
                found.append(read)
    return found


def _guess(placings, first, second):
    """A placing by way of frames between, where they are known to follow each other."""
    for between in range(second - 1, first, -1):
        if (first, between) in placings and (between, second) in placings:
            return placings[first, between].then(placings[between, second])
    return None


def _pair(frames, details, first, second, guess):
    one, two = frames[first], frames[second]
    if guess is None:
        scale = scale_of(one, two, one.lens[0], two.lens[0])
        guess = place(details[first], details[second], scale)
    placing, alike = refine(details[first], details[second], guess)
    if alike < LEAST_ALIKE:
        return None
    pair = read_pair(one, two, first, second, placing)
    return None if pair is None else (placing, pair)


def scale_of(one: Small, two: Small, near: float | None, far: float | None) -> float:
    """How much larger things are in the second frame, in its pixels, by their focal lengths."""
    scale = 1.0 if None in (near, far) else far / near
    return scale * (max(two.light.shape) / max(one.light.shape))


def read_pair(one: Small, two: Small, first: int, second: int, placing: Placing) -> Pair | None:
    """What two frames show of the places they share; None where these are too few.

    Parameters
    ----------
    one, two : Small
    first, second : int
        What the pair is to call them.
    placing : Placing
        Of places of the one in the other.
    """
    shape = one.trusted.shape
    seen, inside = warped(two.trusted.astype(np.float32), placing, shape)
    common = one.trusted & inside & (seen > 0.999)
    common &= smoothed((~common).astype(float), RADIUS) < 1e-6
    places = np.flatnonzero(common)
    if places.size < FEWEST:
        return None
    places = places[:: -(-places.size // MAX_PLACES)]
    ratios = _colours(one.light) - warped(_colours(two.light), placing, shape)[0]
    y, x = np.divmod(places, shape[1])
    x, y = x - (shape[1] - 1) / 2, y - (shape[0] - 1) / 2
    a, b, tx, ty = placing
    there = np.hypot(a * x - b * y + tx, b * x + a * y + ty)
    corners = np.stack([np.hypot(x, y) / _half(one), there / _half(two)], axis=1) ** 2
    return Pair(first, second, ratios.reshape(3, -1)[:, places].T, corners)


def _half(frame):
    return np.hypot(*frame.trusted.shape) / 2


def _colours(light):
    """log2 of green, red to green and blue to green, smoothed, shape (3, rows, columns)."""
    red, green, blue = (np.log2(np.maximum(smoothed(c, RADIUS), 1e-6)) for c in light)
    return np.stack([green, red - green, blue - green])


@dataclass(frozen=True)
class Ratio:
    """What a pair says in the end: log2 ratios of green and of both colours, and how surely."""

    first: int
    second: int
    ratio: np.ndarray
    spread: np.ndarray


def read_ratios(frames: Sequence[Small], pairs: Sequence[Pair]) -> list[Ratio]:
    """The middle of each pair's ratios, corners that the lens darkens made good.

    Returns
    -------
    list of Ratio
        ``ratio`` and ``spread`` of shape (3,): green, red to green, blue to green, in stops.
    """
    lenses = sorted({frame.lens for frame in frames}, key=str)
    which = [lenses.index(frame.lens) for frame in frames]
    falls = _falls(pairs, which, len(lenses))
    found = []
    for pair in pairs:
        fall = falls[which[pair.first]] * pair.corners[:, 0]
        fall = fall - falls[which[pair.second]] * pair.corners[:, 1]
        corrected = pair.ratios - np.stack([fall, 0 * fall, 0 * fall], axis=1)
        centre, spread = zip(*(middle(channel) for channel in corrected.T), strict=True)
        found.append(Ratio(pair.first, pair.second, np.array(centre), np.array(spread)))
    return found


def _falls(pairs, which, count):
    """Stops from middle to corner for each lens and aperture, by alternating with the ratios."""
    falls = np.zeros(count)
    for _ in range(8):
        normal, right = np.eye(count) * 4.0, np.zeros(count)
        for pair in pairs:
            i, j = which[pair.first], which[pair.second]
            row = np.zeros((len(pair.corners), count))
            row[:, i] += pair.corners[:, 0]
            row[:, j] -= pair.corners[:, 1]
            left = pair.ratios[:, 0] - row @ falls
            centre, _ = middle(left)
            weight = 1 / (1 + ((left - centre) / 0.05) ** 2)
            row = row - np.average(row, axis=0, weights=weight)
            normal += (row * weight[:, None]).T @ row
            right += (row * weight[:, None]).T @ (pair.ratios[:, 0] - centre)
        falls = np.linalg.solve(normal, right)
    return falls
