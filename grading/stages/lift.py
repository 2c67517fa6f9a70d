"""Lift: open the shadows and hold the highlights, in stops, without halos.

How dark a place is, is read from a base layer: the frame's log luminance, smoothed, except at
its edges, by a guided filter (He, Sun and Tang, IEEE PAMI 35:1397, 2013; at reduced size as in
He and Sun, arXiv:1505.00996, 2015). A place well below middle grey is given ``shadows`` stops, a
place well above ``highlights`` stops, and nothing happens at middle grey. Since the base follows
hard edges and ignores texture, texture keeps its contrast and edges get almost no halo. All three
channels get the same factor, so hue and saturation stay.
"""

import numpy as np

from grading import kernels
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

SHADOWS_FROM = 5.0
"""Stops below middle grey from which the shadows get all of their lift."""

HIGHLIGHTS_FROM = 4.0
"""Stops above middle grey from which the highlights get all of theirs."""

RADIUS = 1 / 50
"""Radius of the guided filter as a fraction of the long edge."""

EDGE = 0.5
"""Stops of local deviation from which a difference counts as an edge rather than texture."""


class Lift(Model):
    shadows: float = parameter(
        0.0,
        f"Light given to places {SHADOWS_FROM:g} or more stops below middle grey, fading to none "
        "at middle grey.",
        unit="stops",
        minimum=-3,
        maximum=3,
    )
    highlights: float = parameter(
        0.0,
        f"Light given to places {HIGHLIGHTS_FROM:g} or more stops above middle grey, fading to "
        "none at middle grey; below 0 darkens the highlights.",
        unit="stops",
        minimum=-2.5,
        maximum=2.5,
    )


def prepare(parameters: Lift, signal: Signal) -> tuple[np.float32, np.float32] | None:
    """Stops given to the deepest shadows and the brightest highlights; None where both are 0."""
    if parameters.shadows == 0 and parameters.highlights == 0:
        return None
    return np.float32(parameters.shadows), np.float32(parameters.highlights)


def guide(reduced: np.ndarray, lifts: tuple[np.float32, np.float32]) -> np.ndarray:
    """The two planes of the guided filter: base = first * log luminance + second."""
    return kernels.base.edge_aware_base(reduced, RADIUS, EDGE)


def apply(rgb: np.ndarray, lifts: tuple[np.float32, np.float32], planes: np.ndarray) -> np.ndarray:
    """Scene light, each pixel scaled by two to the power of its lift."""
    return kernels.base.lift(rgb, planes, *lifts, SHADOWS_FROM, HIGHLIGHTS_FROM)


STAGE = Stage(
    "lift", ("scene",), "scene", Lift, prepare, apply,
    guide=guide, kernels=("edge_aware_base", "lift"), local=True,
)  # fmt: skip
