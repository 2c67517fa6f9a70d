"""Two cameras in one simulated evening, and how far apart levelling leaves them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from evening.body import Body
from evening.estuary import Shot, make_evening
from evening.judged import measured
from grading.evening.level.corrections import Levelled

FIRST = Body(model="Estuary One")
LONG = dict(model="Estuary Two", first=7001, focals=(70, 100), shifted=1, mixed=0.06)
OTHER_WAY = (60.0, 560.0)
"""Rows and columns from the middle of the panorama to what the first camera never sees."""

TUNED = {
    "same scene": (Body(**LONG, honest=0.3, bias=0.4, guess=12), 20),
    "another scene": (Body(**LONG, honest=-0.3, bias=-0.3, guess=-12, aim=OTHER_WAY), 20),
    "begins late": (Body(**LONG, honest=0.2, bias=0.5, guess=8, span=(36, 45)), 12),
    "phone": (Body(model="Estuary Pocket", first=9001, focals=(28, 28), span=(5, 40),
                   rendered=True), 12),
}  # fmt: skip
HELD_BACK = {
    "beside": (Body(**LONG, honest=-0.3, bias=0.2, guess=10, span=(28, 45),
                        aim=(0.0, 380.0)), 16),
    "stones": (Body(**LONG, honest=0.3, bias=-0.4, guess=-10, aim=(330.0, 520.0)), 16),
    "after": (Body(**LONG, honest=-0.2, bias=0.4, guess=12, span=(33, 45)), 12),
    "honest twin": (Body(model="Estuary Two", first=7001, bias=0.6, aim=(-20.0, -60.0)), 16),
    "late phone": (Body(model="Estuary Pocket", first=9001, focals=(28, 28), span=(30, 45),
                        bias=0.4, rendered=True, guess=15), 12),
}  # fmt: skip
NOTHING_SHARED = "another scene", "beside", "stones"
"""Evenings in which no frames of both show the same places well enough."""

ENDS = {"after": 30.0}
"""Minute in which the first camera stops, where it is not the end."""


@dataclass(frozen=True)
class Apart:
    """How far apart two cameras are: middle of the second's less that of the first's.

    ``stops`` is of the exposure of one grey in one light, ``mired`` of what remains of a cast.
    """

    stops: float
    mired: float


Outcome = list[tuple[Shot, Levelled, bool]]
"""The truth about each frame, what levelling found, and whether it is a picture already."""


def two_bodies(folder: Path, name: str, second: Body, frames: int, seed: int = 1) -> Outcome:
    """An evening of that name with frames of both in a folder, levelled."""
    ends = ENDS.get(name, 45.0)
    first = FIRST if ends == 45.0 else Body(model=FIRST.model, first=1, span=(0.0, ends))
    truth = make_evening(folder, seed, frames=24, body=first)
    other = make_evening(folder, seed, frames=frames, body=second)
    levels = measured(folder)[1]
    rendered = [False] * len(truth) + [second.rendered] * len(other)
    shots = truth + other
    return [(s, levels[s.path.stem], r) for s, r in zip(shots, rendered, strict=True)]


def apart(found: Outcome) -> Apart:
    """By the truth, where nothing of the fall and of the cooling is to stay."""
    stops, casts = {}, {}
    for shot, levelled, rendered in found:
        model = levelled.captured.capture.model
        stops.setdefault(model, []).append(shot.light + shot.offset + levelled.stops)
        balanced = 1e6 / levelled.kelvin + (shot.guessed - 1e6 / 6504 if rendered else 0.0)
        casts.setdefault(model, []).append(shot.mired - balanced)
    (one, two), (warm, cold) = (
        [np.median(values) for values in kind.values()] for kind in (stops, casts)
    )
    return Apart(float(two - one), float(cold - warm))
