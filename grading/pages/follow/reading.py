"""What a place in a frame is: how light, how coloured, and which illuminant would make it grey."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from grading.colour import munsell, oklab
from grading.colour.spaces import MIDDLE_GREY
from grading.engine.descent import taken_through
from grading.engine.steps import Plan
from grading.errors import OriginalError
from grading.frame import Frame
from grading.stages import white_balance

GREY_CHROMA = 0.01
"""Oklab chroma below which a hue is not named: half of CSS Color 4's just noticeable difference."""


@dataclass(frozen=True)
class Reading:
    """The mean of a square of 1/200 of the long edge about a place.

    Attributes
    ----------
    scene : float
        Light of the scene where it enters the tone curve, in stops from middle grey, counted as
        the tone curve counts it: cubed Oklab lightness, which for a grey is its luminance. -inf
        for black.
    picture : float
        Likewise what leaves the whole recipe.
    lightness, chroma, hue : float
        The picture's Oklab; hue in degrees.
    illuminant : (float, float) or None
        Kelvin and Duv of the illuminant under which the place would be neutral: what
        ``white_balance: {neutral: [x, y]}`` comes to.
    no_illuminant : str
        Why there is none.
    """

    scene: float
    picture: float
    lightness: float
    chroma: float
    hue: float
    illuminant: tuple[float, float] | None
    no_illuminant: str

    @property
    def family(self) -> str | None:
        """Munsell hue family of the picture's colour; None where it is grey."""
        return munsell.family(self.hue) if self.chroma >= GREY_CHROMA else None


def read_place(whole: Frame, small: Frame, plan: Plan, point: Sequence[float]) -> Reading:
    """Read a place.

    Parameters
    ----------
    whole, small : Frame
        The original, and the version of it that was graded.
    plan : Plan
        Of the latter under its recipe.
    point : sequence of two float
        [x, y] in fractions of the frame.

    Returns
    -------
    Reading
    """
    region = white_balance.square(small.pixels, point)
    scene_steps = sum(step.stage.gives != "picture" for step in plan.steps)
    scene = taken_through(plan.first(scene_steps), region)
    lightness = oklab.working_to_oklab(_mean(scene))[0]
    lab = _mean(taken_through(plan, region))
    illuminant = _illuminant(whole, plan, point)
    return Reading(
        scene=_stops(lightness),
        picture=_stops(lab[0]),
        lightness=float(lab[0]),
        chroma=math.hypot(lab[1], lab[2]),
        hue=float(oklab.hue(lab)),
        illuminant=illuminant,
        no_illuminant="" if illuminant else _why_none(whole, point),
    )


def _mean(planes):
    return planes.mean(axis=(1, 2), dtype=np.float64)


def _stops(lightness):
    return math.log2(lightness**3 / MIDDLE_GREY) if lightness > 0 else -math.inf


def _illuminant(frame, plan, point):
    whites = [step for step in plan.steps if step.stage is white_balance.STAGE]
    calibrations = whites[0].parameters.calibrations if whites else None
    sought = white_balance.WhiteBalance(neutral=list(point), calibrations=calibrations)
    try:
        found = white_balance.resolve(sought, frame)
    except OriginalError:
        return None
    return found.kelvin, found.duv


def _why_none(frame, point):
    pixels = frame.pixels.read(white_balance.square(frame.pixels, point))
    if _mean(pixels).min() <= 0:
        return "none: a channel is black"
    if pixels.max() >= white_balance.CLIPPED:
        return "none: a channel is burnt out"
    return "none: too strong a colour"
