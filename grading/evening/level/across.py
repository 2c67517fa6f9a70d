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

NEAREST, MOST = 2, 24
"""Frames of the other camera that each is laid over, and pairs that are tried in all."""

MINUTES = 10.0
"""Time between two frames from which on they are not compared."""

SIZES, PROBED = (1.0, 1.5, 1 / 1.5), 6
"""Sizes of one sensor in those of the other that are tried where files do not say it (common
practice, no source), and on how many pairs."""


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
    start = len(one)
    numbers = [(i, start + j) for i, j in _near_in_time(one, two)]
    if not numbers:
        return []
    frames = [_balanced(frame) for frame in (*one, *two)]
    details = each(lambda frame=frame: detail(frame.light) for frame in frames)

    def placed(pairs, size):
        return each(
            lambda i=i, j=j: _placed(frames[i], frames[j], details[i], details[j], size)
            for i, j in pairs
        )

    def agreeing(size):
        return sum(alike >= LEAST_ALIKE for _, alike in placed(probed, size))

    probed = numbers[:: -(-len(numbers) // PROBED)]
    found = [
        read_pair(frames[i], frames[j], i, j, placing)
        for (i, j), (placing, alike) in zip(
            numbers, placed(numbers, max(SIZES, key=agreeing)), strict=True
        )
        if alike >= LEAST_ALIKE
    ]
    ratios = read_ratios(frames, [pair for pair in found if pair is not None])
    return [replace(ratio, second=ratio.second - start) for ratio in ratios]


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


def _placed(one, two, first, second, size):
    """How the detail of one frame lies in that of another, and how well they then agree."""
    full = [each.captured.capture.focal_length_full_frame for each in (one, two)]
    if None in full:
        scale = size * scale_of(one, two, one.lens[0], two.lens[0])
    else:
        scale = scale_of(one, two, *full)
    return refine(first, second, place(first, second, scale))
