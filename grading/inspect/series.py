"""Frames that show the same: bursts, brackets and near-duplicates, and the sharpest of each.

Frames of one moment that look alike are a burst; where the settings, and with them the light that
is recorded, go in even steps, it is a bracket of exposures, and where one zone gains what another
loses, one of focus. What looks alike though it is further apart is near-duplicates. The limits are
ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations

import numpy as np

from grading.inspect.likeness import likeness
from grading.inspect.measure import Measures

BURST, APART = 2.5, 120.0
"""Seconds between neighbours of a burst, beside their exposure; and of near-duplicates."""

ALIKE, SAME = 0.55, 0.9
"""Likeness of frames of one moment, and of near-duplicates."""

SPAN, STEP, UNEVEN, FOLLOWS = 0.6, 0.3, 0.25, 0.6
"""Stops that a bracket of exposures spans at least, and that each of its steps has; by how much
steps may differ from each other, and recorded light from what the settings say."""

SHARPER, ZONES = 1.8, 2
"""By which factor detail of so many zones rises, while that of as many others falls."""

TIE = 0.01
"""Frames of a burst that are less sharp by no more than this share count as equally sharp."""


@dataclass(frozen=True)
class Series:
    """Frames that show the same.

    Attributes
    ----------
    kind : {"burst", "exposure bracket", "focus bracket", "near-duplicates"}
    frames : tuple of int
        Their places in what was given, in order of capture.
    best : int or None
        The sharpest of them; None of a bracket, which is kept whole.
    """

    kind: str
    frames: tuple[int, ...]
    best: int | None


def find_series(frames: Sequence[Measures], rejected: Sequence[bool]) -> list[Series]:
    """Series among frames.

    Parameters
    ----------
    frames : sequence of Measures
    rejected : sequence of bool
        Which of them are blurred or badly exposed: these are the best of none.

    Returns
    -------
    list of Series
        In order of capture; a frame is in one at most.
    """
    times = [_time(frame) for frame in frames]
    order = sorted((i for i, time in enumerate(times) if time), key=lambda i: times[i])
    runs = _runs(order, lambda a, b: _is_burst(frames, times, a, b))
    found = [_series(frames, rejected, run) for run in runs if len(run) > 1]
    single = [run[0] for run in runs if len(run) == 1]
    for run in _runs(single, lambda a, b: _is_duplicate(frames, times, a, b)):
        if len(run) > 1:
            found.append(Series("near-duplicates", tuple(run), _best(frames, rejected, run)))
    return sorted(found, key=lambda series: times[series.frames[0]])


def _time(frame):
    stated = frame.capture.time
    return datetime.fromisoformat(stated).replace(tzinfo=None) if stated else None


def _runs(order, belongs):
    """Parts of an order whose neighbours belong together."""
    runs = []
    for index in order:
        if runs and belongs(runs[-1][-1], index):
            runs[-1].append(index)
        else:
            runs.append([index])
    return runs


def _is_like(frames, a, b, least):
    return (
        frames[a].capture.camera == frames[b].capture.camera
        and likeness(frames[a].picture, frames[b].picture) >= least
    )


def _is_burst(frames, times, a, b):
    gap = (times[b] - times[a]).total_seconds() - (frames[a].capture.shutter or 0)
    return gap <= BURST and _is_like(frames, a, b, ALIKE)


def _is_duplicate(frames, times, a, b):
    gap = (times[b] - times[a]).total_seconds()
    return gap <= APART and _is_like(frames, a, b, SAME)


def _series(frames, rejected, run):
    if _steps_exposure([frames[i].exposure for i in run]):
        return Series("exposure bracket", tuple(run), None)
    if _moves_focus([frames[i].detail for i in run]):
        return Series("focus bracket", tuple(run), None)
    return Series("burst", tuple(run), _best(frames, rejected, run))


def _steps_exposure(exposures):
    """Whether settings go in even steps, and the light that was recorded follows them."""
    values = [each.ev100 for each in exposures]
    if None in values:
        return False
    steps = np.diff(np.sort(values))
    if steps.sum() < SPAN or steps.min() < STEP or np.ptp(steps) > UNEVEN:
        return False
    first = exposures[0]
    return all(
        abs(each.middle - first.middle + each.ev100 - first.ev100) < FOLLOWS
        or max(each.clipped) > 0.02 or max(first.clipped) > 0.02
        for each in exposures
    )  # fmt: skip


def _moves_focus(details):
    """Whether some zones gain detail from one frame to another while others lose it."""
    for first, second in combinations(details, 2):
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = first / second
        if (ratio > SHARPER).sum() >= ZONES and (ratio < 1 / SHARPER).sum() >= ZONES:
            return True
    return False


def _best(frames, rejected, run):
    """The sharpest frame of a run, the first among equals, a reject only where all are."""
    usable = [i for i in run if not rejected[i]] or run
    details = np.array([frames[i].detail for i in usable])
    common = np.isfinite(details).all(0)
    if not common.any():
        return usable[0]
    score = np.exp(np.log(np.maximum(details[:, common], 1e-3)).mean(1))
    return usable[int(np.flatnonzero(score >= (1 - TIE) * score.max())[0])]
