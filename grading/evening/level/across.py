"""Frames of two cameras laid over each other, where both saw the same places.

Each frame is first brought to working light by its own camera's matrix and the white it was shot
with, so that what is left are the errors of ISO speeds, whites and matrices. Only frames taken
within the same minutes are tried.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace

import numpy as np

from grading.colour.far import neutral_to_working
from grading.evening.level.overlap import detail, place, refine
from grading.evening.level.pairs import LEAST_ALIKE, Ratio, read_pair, read_ratios, scale_of
from grading.evening.level.small import Small

NEAREST, MOST = 2, 48
"""Frames of the other camera that each is laid over, and pairs that are tried in all."""

MINUTES = 10.0
"""Time between two frames from which on they are not compared."""

SCALES = (1.0, 1.5, 1 / 1.5)
"""Sizes of one sensor in those of the other that are tried where files do not say it (common
practice, no source)."""


def find_across(
    one: Sequence[Small], two: Sequence[Small], each: Callable[[Iterable], list]
) -> list[Ratio]:
    """Ratios of frames of one camera over those of another at the places they share.

    Parameters
    ----------
    one, two : sequence of Small
        Frames of either camera in order of capture.
    each : callable
        As `grading.evening.level.pairs.find_pairs` takes it.

    Returns
    -------
    list of Ratio
        ``first`` counts in `one`, ``second`` in `two`. The ratios are those of working light,
        each frame balanced as it was shot.
    """
    numbers = _near_in_time(one, two)
    if not numbers:
        return []
    used = [sorted({pair[side] for pair in numbers}) for side in (0, 1)]
    frames = {
        (side, n): _balanced(frames[n])
        for side, frames in enumerate((one, two))
        for n in used[side]
    }
    details = dict(zip(frames, each(lambda f=f: detail(f.light) for f in frames.values()),
                       strict=True))  # fmt: skip
    tried = each(
        lambda i=i, j=j: _pair(frames[0, i], frames[1, j], details[0, i], details[1, j], i, j)
        for i, j in numbers
    )
    found = [pair for pair in tried if pair is not None]
    both = [frames.get((0, n), one[n]) for n in range(len(one))]
    both += [frames.get((1, n), two[n]) for n in range(len(two))]
    placed = [replace(pair, second=pair.second + len(one)) for pair in found]
    return [replace(r, second=r.second - len(one)) for r in read_ratios(both, placed)]


def _near_in_time(one, two):
    """Pairs of numbers, the nearest of the other camera to each frame; thinned out evenly."""
    minutes = np.array([[(a.captured.time - b.captured.time).total_seconds() / 60 for b in two]
                        for a in one])  # fmt: skip
    apart = np.abs(minutes)
    rows = {(i, int(j)) for i in range(len(one)) for j in np.argsort(apart[i])[:NEAREST]}
    columns = {(int(i), j) for j in range(len(two)) for i in np.argsort(apart[:, j])[:NEAREST]}
    near = sorted(pair for pair in rows | columns if apart[pair] <= MINUTES)
    return near[:: -(-len(near) // MOST)] if near else []


def _balanced(frame):
    """The frame in working light, white as it was shot."""
    if frame.camera is None:
        return frame
    matrix = neutral_to_working(frame.camera, frame.neutral).astype(np.float32)
    return replace(frame, light=np.einsum("ij,jrc->irc", matrix, frame.light))


def _pair(one, two, first, second, i, j):
    full = [each.captured.capture.focal_length_full_frame for each in (one, two)]
    if None not in full:
        scales = [scale_of(one, two, *full)]
    else:
        scales = [size * scale_of(one, two, one.lens[0], two.lens[0]) for size in SCALES]
    placed = [refine(first, second, place(first, second, scale)) for scale in scales]
    placing, alike = max(placed, key=lambda each: each[1])
    return None if alike < LEAST_ALIKE else read_pair(one, two, i, j, placing)
