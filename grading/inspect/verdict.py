"""What speaks against a frame, in words with a number each; the person decides.

The limits are ours, set on simulated frames and photographs (`tests/benchmarks/choosing.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from grading.inspect.exposure import breaks_handheld_rule, handheld_limit
from grading.inspect.measure import Measures

SOFT = 2.0
"""Pixels of blur at the sharpest places from which a frame is out of focus by itself."""

SOFTER, SOFTER_THAN_MOST = 1.55, 1.8
"""The same beside a set: pixels at least, and times the middle of the set."""

BURNT, BURNT_AND_LIGHT, LIGHT = 0.2, 0.03, -2.2
"""Share of clipped green that burns a frame; the same where its mean is so many stops from white
or less."""

DIM, DARK = 3.6, -7.5
"""Stops from the lights of green to white, and of its mean, from which a frame is underexposed."""

UNLIKE, BURNT_A_LITTLE, DIM_A_LITTLE = 1.8, 0.005, 2.2
"""Stops from the frames next to it in time that speak for the same, with less of it."""

NEIGHBOURS, FEWEST = 4, 5
"""Frames to each side, and how many in all, from which on a frame is compared with others."""


class Verdict(NamedTuple):
    """What speaks against a frame: a word of `WORDS`, and a sentence with the number."""

    word: str
    why: str


WORDS = ("shaken", "out of focus", "overexposed", "underexposed")


def verdicts(frames: Sequence[Measures]) -> list[list[Verdict]]:
    """What speaks against each of the frames of a set.

    Parameters
    ----------
    frames : sequence of Measures
        In order of capture.

    Returns
    -------
    list of list of Verdict
    """
    soft = [frame.softness for frame in frames if frame.softness is not None]
    usual = float(np.median(soft)) if len(soft) >= FEWEST else None
    middles = [frame.exposure.middle for frame in frames]
    found = []
    for i, frame in enumerate(frames):
        unlike = _beside(middles, i)
        over, under = _overexposed(frame, unlike), _underexposed(frame, unlike)
        # what is lost in noise looks soft beside others
        blurred = _blurred(frame, None if under else usual)
        found.append([each for each in (blurred, over, under) if each])
    return found


def notes(frame: Measures) -> list[str]:
    """Sentences that are no verdict."""
    said = []
    if breaks_handheld_rule(frame.capture):
        limit = handheld_limit(frame.capture)
        said.append(
            "the shutter was open longer than the rule of thumb for a camera in the hand,"
            f" 1/(2\N{NO-BREAK SPACE}f) = {_seconds(limit)}"
        )
    if frame.softness is None:
        said.append("no place shows enough detail to tell its sharpness")
    return said


def _seconds(time):
    return f"1/{1 / time:.0f} s" if time < 0.3 else f"{time:.2g} s"


def _beside(middles, i):
    """Stops by which a frame is lighter than those next to it; 0 where there are few."""
    others = middles[max(i - NEIGHBOURS, 0) : i] + middles[i + 1 : i + 1 + NEIGHBOURS]
    return middles[i] - float(np.median(others)) if len(others) >= FEWEST - 1 else 0.0


def _blurred(frame, usual):
    blur, softness = frame.blur, frame.softness
    if blur and blur.kind == "moved":
        return Verdict(
            "shaken",
            f"moved by {blur.size:.0f} pixels at {blur.angle:.0f}°"
            f" in {blur.zones} of {blur.of_zones} zones",
        )
    if blur:
        return Verdict("out of focus", f"circles of confusion of {2 * blur.size:.0f} pixels")
    if softness is None:
        return None
    if softness >= SOFT:
        return Verdict("out of focus", f"blur of {softness:.1f} pixels at its sharpest places")
    if usual is not None and softness >= max(SOFTER, SOFTER_THAN_MOST * usual):
        return Verdict(
            "out of focus",
            f"blur of {softness:.1f} pixels at its sharpest places, {usual:.1f} in most frames",
        )
    return None


def _overexposed(frame, unlike):
    exposure = frame.exposure
    share = exposure.clipped[1]
    if share >= BURNT or (share >= BURNT_AND_LIGHT and exposure.middle >= LIGHT):
        return Verdict("overexposed", f"{100 * share:.0f} % of green is clipped")
    if share >= BURNT_A_LITTLE and unlike >= UNLIKE:
        return Verdict(
            "overexposed",
            f"{100 * share:.0f} % of green is clipped, {unlike:.1f} stops lighter than the frames"
            " next to it",
        )
    return None


def _underexposed(frame, unlike):
    exposure = frame.exposure
    headroom = exposure.headroom[1]
    if headroom >= DIM or (exposure.middle <= DARK and headroom >= DIM_A_LITTLE):
        return Verdict("underexposed", f"its lights are {headroom:.1f} stops below white")
    if unlike <= -UNLIKE and headroom >= DIM_A_LITTLE:
        return Verdict(
            "underexposed",
            f"its lights are {headroom:.1f} stops below white, {-unlike:.1f} stops darker than the"
            " frames next to it",
        )
    return None
