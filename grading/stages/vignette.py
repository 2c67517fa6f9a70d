"""Vignette: the finished frame darker or lighter towards its corners, in stops.

From the centre outwards nothing happens at first, then light is taken or given until the farthest
corner has all of it. It is one factor on light, so colours keep hue and saturation, and it comes
last: what the other stages have made is what falls off.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.region import Region
from grading.signal import Signal
from grading.stages.stage import Model, Point, Stage, parameter


class Vignette(Model):
    stops: float = parameter(
        0.0,
        "Light at the farthest corner: below 0 darker, above 0 lighter.",
        unit="stops",
        minimum=-4,
        maximum=4,
    )
    centre: Point = parameter(
        [0.5, 0.5], "[x, y] of the middle.", unit="fractions of the finished frame"
    )
    start: float = parameter(
        0.25,
        "How far from the middle it sets in; the farthest corner is at 1.",
        unit="fraction of the way",
        minimum=0,
        maximum=0.95,
    )
    ratio: float | None = parameter(
        None,
        "Width of its ovals for a height of 1: 1 makes circles; absent: that of the frame.",
        minimum=0.25,
        maximum=4,
    )
    power: float = parameter(
        2.0,
        "Form of its lines of equal light, |x|^power + |y|^power: 2 for ovals, 8 for nearly the"
        " frame's own rectangle.",
        minimum=2,
        maximum=8,
    )


class Constants(NamedTuple):
    """The middle in pixels, what takes pixels to the form (1 at the farthest corner); the rest."""

    centre: np.ndarray
    axes: np.ndarray
    power: float
    start: float
    stops: float


def finished_frame(signal: Signal) -> tuple[np.ndarray, np.ndarray]:
    """Where the finished picture lies in these pixels: its top left, and its two sides.

    Parameters
    ----------
    signal : Signal

    Returns
    -------
    corner : ndarray, shape (2,)
        x and y.
    sides : ndarray, shape (2, 2)
        Its way across and its way down, as columns; the mean of opposite sides where a keystone
        makes these differ.
    """
    corners = np.array(signal.corners) * (signal.facts.width, signal.facts.height)
    first, second, third, fourth = corners
    across, down = (second - first + third - fourth) / 2, (fourth - first + third - second) / 2
    return corners.mean(axis=0) - (across + down) / 2, np.column_stack([across, down])


def prepare(parameters: Vignette, signal: Signal) -> Constants | None:
    """Where its lines run in these pixels; None at 0 stops."""
    if parameters.stops == 0:
        return None
    corner, sides = finished_frame(signal)
    width, height = np.hypot(*sides)
    x, y = parameters.centre
    ratio = width / height if parameters.ratio is None else parameters.ratio
    power = parameters.power
    across, down = max(x, 1 - x) * width, max(y, 1 - y) * height
    high = ((across / ratio) ** power + down**power) ** (1 / power)
    shares = np.array([width / (high * ratio), height / high])
    axes = shares[:, None] * np.linalg.inv(sides)
    return Constants(corner + sides @ (x, y) - 0.5, axes, power, parameters.start, parameters.stops)


def apply(lab: np.ndarray, constants: Constants, region: Region) -> np.ndarray:
    """Picture (Oklab) of a region, its lightness and chroma falling off."""
    return kernels.vignette.fall_off(lab, *region, *constants)


STAGE = Stage(
    "vignette", ("picture",), "picture", Vignette, prepare, apply,
    placed=True, kernels=("vignette",),
)  # fmt: skip
