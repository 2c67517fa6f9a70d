"""Lift: open the shadows and hold the highlights, in stops, without halos.

How dark a place is, is read from a base layer: the mean log luminance of what is about as bright
near it, from a bilateral grid (Chen, Paris and Durand, ACM Transactions on Graphics 26(3):103,
2007). A place well below middle grey is given ``shadows`` stops, a place well above ``highlights``
stops, and nothing happens at middle grey. Since what lies beyond an edge has no part in the base,
edges get no halo, a lamp keeps its own tone, and texture keeps its contrast, even right beside an
edge. All three channels get the same factor, so hue and saturation stay. The ranges end where tones
would begin to change places: 3 stops for shadows, which are five stops deep, and 2.5 for
highlights, which are four.
"""

import numpy as np

from grading import kernels
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

SHADOWS_FROM = 5.0
"""Stops below middle grey from which the shadows get all of their lift."""

HIGHLIGHTS_FROM = 4.0
"""Stops above middle grey from which the highlights get all of theirs."""

CELL = 1 / 60
"""Of the base's grid, as a fraction of the long edge."""


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


def guide(reduced: np.ndarray, lifts: tuple[np.float32, np.float32]):
    """The frame's bilateral grid."""
    return kernels.grid.bilateral_grid(reduced, CELL)


def spread(grid, factor: int, *tile: int):
    """The grid as it lies on a tile."""
    return kernels.grid.spread(grid, factor, *tile)


def apply(rgb: np.ndarray, lifts: tuple[np.float32, np.float32], grid) -> np.ndarray:
    """Scene light, each pixel scaled by two to the power of its lift."""
    return kernels.detail.lift(rgb, grid, *lifts, SHADOWS_FROM, HIGHLIGHTS_FROM)


STAGE = Stage(
    "lift", ("scene",), "scene", Lift, prepare, apply,
    guide=guide, spread=spread, kernels=("bilateral_grid", "lift"), local=True,
)  # fmt: skip
