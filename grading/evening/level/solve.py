"""One course of the evening's light from what the settings and the pairs of frames say.

What a frame records is the light of the scene at its time, what the settings let in, and a slip:
the error of shutter and iris that no dial tells. The course is smooth, with bends where a cloud
passes; slips are small; ratios of pairs hold but for a few that were matched wrongly. All are
solved for at once, by least squares with weights that follow what is left (Holland and Welsch,
Commun. Stat. A6:813, 1977), the course smoothed by penalised differences (Whittaker, Proc.
Edinburgh Math. Soc. 41:63, 1923; Eilers, Anal. Chem. 75:3631, 2003).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from grading.evening.level.pairs import Ratio
from grading.evening.level.robust import biweight

ROUNDS = 20

PAIR = 0.015
"""Stops by which the ratio of a pair errs, beside its own spread."""

BEND = 0.012
"""How fast the slope of the course changes, in stops a minute each minute."""

WEATHER, PASSES = 0.18, 4.0
"""Stops by which the light leaves its trend, and for how many minutes."""

SLIP = 0.03
"""Stops of slip that are expected at least."""

INDEX = 0.4
"""Stops by which the middle of a frame differs from that of another frame in the same light."""

GUESS = 0.15
"""Stops of red or blue to green by which a camera's guess of the white errs."""


HELD = 1e-6
"""Weight of next to nothing that holds what no claim does."""


class _Claim(NamedTuple):
    """Something that should hold: ``rows @ x = right``, each to within its ``scale``.

    ``trust`` gives weights for what is left, in scales.
    """

    rows: np.ndarray
    right: np.ndarray
    scale: np.ndarray
    trust: Callable[[np.ndarray], np.ndarray]


def solve_light(
    seconds: np.ndarray, dials: np.ndarray, index: np.ndarray, ratios: Sequence[Ratio]
) -> tuple[np.ndarray, np.ndarray]:
    """The course of the light, and the level of each frame.

    Parameters
    ----------
    seconds : ndarray, shape (frames,)
        Capture times, rising.
    dials : ndarray, shape (frames,)
        What the settings let in, in stops: minus the exposure value.
    index : ndarray, shape (frames,)
        log2 of the middle of each frame's green, the weakest of what is known.
    ratios : sequence of Ratio

    Returns
    -------
    light : ndarray, shape (frames,)
        Stops; its zero is arbitrary.
    level : ndarray, shape (frames,)
        What the frame made of it: light, settings and slip, in stops.
    """
    count = len(seconds)
    one, none = np.eye(count), np.zeros((count, count))
    recorded = index - dials - np.median(index - dials)
    pairs, bends, drift = _pairs(ratios, 0, count), _bends(seconds), _weather(seconds)

    def solved(slip):
        return np.split(
            _solve([
                _Claim(np.hstack([pairs.rows] * 3), pairs.right - pairs.rows @ dials, pairs.scale,
                       _few_are_wrong),
                bends._replace(rows=np.hstack([bends.rows, 0 * bends.rows, 0 * bends.rows])),
                drift._replace(rows=np.hstack([none, drift.rows, none])),
                _Claim(np.hstack([none, none, one]), np.zeros(count), np.full(count, slip),
                       _all_hold),
                _Claim(np.hstack([one] * 3), recorded, np.full(count, INDEX), _few_are_wrong),
            ]),
            3,
        )  # fmt: skip

    level = sum(solved(SLIP))
    trend, weather, slips = solved(max(SLIP, _scatter(seconds, level)))
    return trend + weather, trend + weather + slips + dials


def _scatter(seconds, values):
    """Deviation of what changes from frame to frame, by what lies between each two neighbours."""
    if len(values) < 3:
        return 0.0
    before, after = np.diff(seconds)[:-1] + 1, np.diff(seconds)[1:] + 1
    share = before / (before + after)
    left = values[1:-1] - (1 - share) * values[:-2] - share * values[2:]
    return 1.4826 * float(np.median(np.abs(left / np.sqrt(1 + share**2 + (1 - share) ** 2))))


def _weather(seconds):
    """What comes and goes about the trend, as clouds do: it keeps for some minutes."""
    count = len(seconds)
    keeps = np.exp(-np.diff(seconds) / (60 * PASSES))
    rows = np.eye(count)
    rows[np.arange(1, count), np.arange(count - 1)] -= keeps
    fresh = np.sqrt(np.concatenate([[1.0], 1 - keeps**2]))
    return _Claim(rows, np.zeros(count), WEATHER * np.maximum(fresh, 0.05), _few_are_large)


def solve_white(
    seconds: np.ndarray, as_shot: np.ndarray, ratios: Sequence[Ratio], channel: int
) -> np.ndarray:
    """The course of one colour of the white: log2 of red or blue to green, shape (frames,).

    Parameters
    ----------
    seconds : ndarray, shape (frames,)
    as_shot : ndarray, shape (frames,)
        What the camera took for neutral; right on the whole, not from frame to frame.
    ratios : sequence of Ratio
    channel : int
        1 for red, 2 for blue.
    """
    count = len(seconds)
    guesses = _Claim(np.eye(count), as_shot, np.full(count, GUESS), _few_are_wrong)
    return _solve([_pairs(ratios, channel, count), _bends(seconds), guesses])


def _solve(claims: Sequence[_Claim]) -> np.ndarray:
    rows = np.vstack([claim.rows for claim in claims])
    right = np.concatenate([claim.right for claim in claims])
    scale = np.concatenate([claim.scale for claim in claims])
    ends = np.cumsum([len(claim.right) for claim in claims])[:-1]
    weights = np.ones(len(right))
    for number in range(ROUNDS):
        weighted = rows * (weights / scale**2)[:, None]
        normal = weighted.T @ rows + HELD * np.eye(rows.shape[1])
        found = np.linalg.solve(normal, weighted.T @ right)
        left = np.split((rows @ found - right) / scale, ends)
        weights = np.concatenate([
            (_few_are_large if number < ROUNDS // 2 and claim.trust is _few_are_wrong
             else claim.trust)(each)
            for claim, each in zip(claims, left, strict=True)
        ])  # fmt: skip
    return found


def _all_hold(left):
    return np.ones_like(left)


def _few_are_wrong(left):
    return biweight(left / 2)


def _few_are_large(left):
    """Weights that make a few large ones as cheap as many small ones (a sum of magnitudes)."""
    return 1 / np.sqrt(1 + left**2)


def _pairs(ratios, channel, count):
    rows = np.zeros((len(ratios), count))
    for row, each in zip(rows, ratios, strict=True):
        row[each.first] += 1
        row[each.second] -= 1
    spread = np.array([each.spread[channel] for each in ratios])
    right = np.array([each.ratio[channel] for each in ratios])
    return _Claim(rows, right, np.hypot(PAIR, spread / 10), _few_are_wrong)


def _bends(seconds):
    """Second derivatives of a course, in stops a minute squared."""
    minutes = np.maximum(np.diff(seconds), 1) / 60
    rows = np.zeros((max(len(seconds) - 2, 0), len(seconds)))
    for i, row in enumerate(rows):
        before, after = minutes[i : i + 2]
        row[i : i + 3] = np.array([1 / before, -1 / before - 1 / after, 1 / after])
        row /= (before + after) / 2
    return _Claim(rows, np.zeros(len(rows)), np.full(len(rows), BEND), _few_are_large)
