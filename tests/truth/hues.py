"""Hue through the whole engine: what must keep it, and what is to change a part of it only."""

from functools import cache
from typing import NamedTuple

import numpy as np

from grading.colour.munsell import FAMILIES
from grading.stages.hues import Window, weight
from truth.gamut import chroma, fits, polar, steps, turn
from truth.neighbour import neighbour
from truth.pictures import shown

KEEPING = {
    "exposure": {"exposure": {"stops": 0.7}},
    "exposure down": {"exposure": {"stops": -2.5}},
    "levels": {"levels": {"white": 2.2}},
    "lift of shadows": {"lift": {"shadows": 1.5}},
    "hold of lights": {"lift": {"highlights": -1.5}},
    "tone curve": {"tone_curve": {"contrast": 1.5, "shoulder": 0.3, "toe": 0.2}},
    "bent tone curve": {"tone_curve": {"points": [[-4, -3.2], [0, 0.2], [2, 1.9]]}},
    "richer colours": {"hues": {"all": {"centre": "all", "saturation": 0.3}}},
}
"""Recipes that change tone or chroma and must leave hue alone."""


def colours():
    """A chart of colours at even steps of lightness, chroma and hue, shape (60, 360, 3)."""
    lightness = np.linspace(0.3, 0.85, 12)[:, None, None]
    lab = polar(lightness, np.array([0.03, 0.05, 0.08, 0.11, 0.14])[:, None], np.arange(360))
    return lab.reshape(60, 360, 3)


class Kept(NamedTuple):
    """Largest turn of hue in degrees, over the share of the chart that is judged."""

    recipe: str
    turn: float
    judged: float


@cache
def measure_kept(name):
    """One of `KEEPING`, in an output of BT.2020; colours count where input and output fit."""
    lab = colours()
    out = shown(lab, "bt2020", **KEEPING[name])
    judged = fits(lab, "bt2020") & fits(out * (1, 1.02, 1.02), "bt2020") & (out[..., 0] > 0.1)
    return Kept(name, float(np.abs(turn(out, lab))[judged].max()), float(judged.mean()))


def grey_ramp():
    """Greys of Oklab lightness 0.2 to 0.9, shape (1, 256, 3)."""
    return polar(np.linspace(0.2, 0.9, 256), 0.0, 0.0)[None]


class Toning(NamedTuple):
    """Errors of tints on a ramp of greys, Oklab: one tint in all three parts must be even, and
    at the tone that `balance` states shadows and lights must weigh the same."""

    uneven: float
    unbalanced: float


@cache
def measure_toning():
    """Three equal tints; then opposite ones, crossing one stop below middle grey."""
    tint = {"hue": 70.0, "chroma": 0.04}
    even = {part: tint for part in ("shadows", "midtones", "highlights")}
    out = shown(grey_ramp(), "bt2020", split_toning=even)
    aim = polar(grey_ramp()[..., 0], 0.04, 70.0)
    crossing = polar(np.full((1, 8), np.cbrt(0.18 / 2)), 0.0, 0.0)
    opposite = {"shadows": tint, "highlights": tint | {"hue": 250.0}, "balance": -1.0}
    balanced = shown(crossing, "bt2020", split_toning=opposite)
    return Toning(float(np.abs(out - aim).max()), float(chroma(balanced).max()))


class Windows(NamedTuple):
    """Hue windows on the full circle of hue.

    `seam` is the largest difference in degrees between a window's effect at one centre and at
    others, which must be the same turned round; `stretch` the largest ratio of a step to the
    step it came from, which is 1 + shift / width * pi / 2 for a raised cosine; `grey` what is
    left of the effect on a grey, Oklab.
    """

    seam: float
    stretch: float
    expected_stretch: float
    grey: float


WINDOW = {"width": 40.0, "shift": 25.0}


def _turned(centre):
    degrees = centre + np.arange(-180, 180, 0.25)
    lab = polar(0.6, 0.06, degrees)[None]
    out = shown(lab, "bt2020", hues={"one": {"centre": centre % 360, **WINDOW}})
    return turn(out, lab)[0], float((steps(out, 1) / steps(lab, 1)).max())


@cache
def measure_windows():
    """The same window at eight centres around the circle, two of them beside its seam."""
    centres = (1, 359, *range(30, 360, 60))
    effects, stretches = zip(*(_turned(float(centre)) for centre in centres), strict=True)
    change = {"centre": 0.0, "width": 180.0, "shift": 60.0, "saturation": 1.0, "lightness": 0.2}
    grey = shown(grey_ramp(), "bt2020", hues={"one": change}) - grey_ramp()
    return Windows(
        seam=float(np.ptp(effects, axis=0).max()),
        stretch=max(stretches),
        expected_stretch=1 + np.pi / 2 * WINDOW["shift"] / WINDOW["width"],
        grey=float(np.abs(grey).max()),
    )


class Families(NamedTuple):
    """Shares of real renotation chips of chroma 4 and above; `inner` is without steps of 10."""

    chips: int
    all_steps: float
    inner: float


@cache
def measure_families():
    """Share of chips on which, of ten windows named by family, that of their own weighs most."""
    numbers, chip_chroma, hues = neighbour("colour/test_munsell.py").chips()
    windows = [Window(centre=name) for name in FAMILIES]
    heaviest = np.argmax([weight(window, hues) for window in windows], axis=0)
    right = heaviest == (np.ceil(numbers / 10) - 1) % 10
    coloured = chip_chroma >= 4
    inner = coloured & (numbers % 10 != 0)
    return Families(int(coloured.sum()), float(right[coloured].mean()), float(right[inner].mean()))
