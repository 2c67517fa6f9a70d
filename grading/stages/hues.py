"""Hues: windows on the circle of hue, to shift, saturate, mute or lighten only some colours.

A window has a centre and a width (full width at half its weight) and the weight falls off as a
raised cosine, so neighbouring colours follow softly and the circle has no seam. Where windows
overlap, their changes add up. Greys have no hue and stay as they are: shift and saturation
scale chroma, and the change of lightness is weighted by chroma.

``centre: others`` means all hues that no other window has. So ``keep: {centre: 5YR}`` and
``rest: {centre: others, saturation: -1}`` take all colours away but those near 5YR.
"""

from typing import ClassVar, Literal

import numpy as np
from pydantic import ConfigDict, Field, RootModel

from grading import kernels
from grading.signal import Signal
from grading.stages.stage import Hue, Model, Stage, complete_schema, parameter

TABLE_SIZE = 1440
"""Steps around the circle."""

GREY_CHROMA = 0.03
"""Oklab chroma at which a change of lightness has half of its effect."""


class Window(Model):
    centre: Hue | Literal["all", "others"] = parameter(
        ...,
        "Degrees of Oklab hue, a Munsell hue such as 5PB, all of them, or all others than those of"
        " the other windows.",
        unit="degrees",
    )
    width: float = parameter(
        60.0, "Full width at half weight.", unit="degrees", minimum=5, maximum=180
    )
    shift: float = parameter(
        0.0,
        "Turn of hue: above 0 from red towards yellow, green and blue.",
        unit="degrees",
        minimum=-90,
        maximum=90,
    )
    saturation: float = parameter(
        0.0,
        "Change of chroma as a fraction: -1 removes all of it, 0.5 adds half.",
        unit="fraction",
        minimum=-1,
        maximum=2,
    )
    lightness: float = parameter(
        0.0,
        "Lighter above 0, darker below: saturated colours change fully, greys hardly.",
        unit="Oklab lightness",
        minimum=-0.3,
        maximum=0.3,
    )


class Hues(RootModel[dict[str, Window]]):
    """Any number of windows, each under a name of your own."""

    model_config = ConfigDict(json_schema_extra=complete_schema)
    root: dict[str, Window] = Field(default_factory=dict)
    exclusive: ClassVar[tuple] = ()


def weight(window: Window, hue: np.ndarray) -> np.ndarray:
    """Weight of a window at hues in degrees, float64 in 0..1, periodic; 1 for one without a hue.

    >>> weight(Window(centre=90.0, width=60.0), np.array([90.0, 120.0, 150.0])).round(6).tolist()
    [1.0, 0.5, 0.0]
    """
    if isinstance(window.centre, str):
        return np.ones_like(hue)
    distance = np.abs((hue - window.centre + 180) % 360 - 180)
    return np.where(
        distance < window.width, 0.5 + 0.5 * np.cos(np.pi * distance / window.width), 0.0
    )


def prepare(parameters: Hues, signal: Signal) -> np.ndarray | None:
    """What happens at each step around the circle, float32.

    Returns
    -------
    ndarray, shape (3, `TABLE_SIZE` + 1), float32, or None
        Change of lightness, and real and imaginary part of the factor on a + ib. The steps are
        even in the diamond angle of `grading.kernels.diamond`.
    """
    windows = [w for w in parameters.root.values() if w.shift or w.saturation or w.lightness]
    if not windows:
        return None
    hue = kernels.diamond.diamond_degrees(TABLE_SIZE)
    named = [w for w in parameters.root.values() if not isinstance(w.centre, str)]
    others = np.prod([1 - weight(w, hue) for w in named], axis=0)
    shift, chroma, lightness = np.zeros((3, TABLE_SIZE + 1))
    for window in windows:
        w = others if window.centre == "others" else weight(window, hue)
        shift += w * np.radians(window.shift)
        chroma += w * window.saturation
        lightness += w * window.lightness
    factor = np.maximum(1 + chroma, 0) * np.exp(1j * shift)
    return np.stack([lightness, factor.real, factor.imag]).astype(np.float32)


def apply(lab: np.ndarray, factors: np.ndarray) -> np.ndarray:
    """Picture (Oklab) with hue, chroma and lightness changed by hue."""
    return kernels.picture.change_by_hue(lab, factors, GREY_CHROMA)


STAGE = Stage(
    "hues", ("picture",), "picture", Hues, prepare, apply, kernels=("change_by_hue",), local=True
)
