"""Tone curve: from the light of the scene to the tones of a picture.

The curve is drawn in stops from middle grey, on both axes. It is a monotone rational quadratic on
each side of middle grey (Gregory and Delbourgo, IMA J. Numer. Anal. 2:123, 1982): through
``black``, middle grey and ``white``, with the slope ``contrast`` at middle grey and the slopes
``toe`` and ``shoulder`` at the ends, so it can never fold back. Here ``black`` and ``white`` leave
middle grey and its contrast alone; those of ``levels`` change all tones alike. ``points`` bend its
result further by monotone cubic interpolation (Fritsch and Carlson, SIAM J. Numer. Anal. 17:238,
1980).

The curve acts on Oklab lightness, and chroma is scaled along with it. That is the same as
scaling the three linear channels by one factor, so hue cannot move and colours keep their
saturation. What leaves the stage is a picture: Oklab, to be toned and shown.

In a local adjustment the same keys bend the tones that the curve of the whole frame has made:
"scene" then means these tones, of which white is 2.47 stops above middle grey.
"""

from typing import Annotated

import numpy as np
from pydantic import Field, model_validator

from grading import kernels
from grading.colour import oklab
from grading.colour.spaces import MIDDLE_GREY
from grading.signal import Signal
from grading.stages.levels import WHITE_STOPS
from grading.stages.stage import Model, Stage, parameter

DISPLAY_BLACK = -10.0
"""Stops below middle grey that a picture shows as black."""

TABLE_TOP = 4.0
"""Oklab lightness where the table ends: 64 times white."""

TABLE_SIZE = 4096

Pair = Annotated[list[Annotated[float, Field(ge=-20, le=20)]], Field(min_length=2, max_length=2)]


class ToneCurve(Model):
    contrast: float = parameter(
        1.0,
        "Slope at middle grey: stops of picture for a stop of scene.",
        unit="stops per stop",
        minimum=0.3,
        maximum=3,
    )
    white: float = parameter(
        WHITE_STOPS,
        "Stops above middle grey that are shown as white.",
        unit="stops",
        minimum=1,
        maximum=8,
    )
    black: float = parameter(
        DISPLAY_BLACK,
        "Stops below middle grey (a negative number) that are shown as black.",
        unit="stops",
        minimum=-14,
        maximum=-2,
    )
    shoulder: float = parameter(
        1.0,
        "Slope at white: 0 rolls the highlights off softly, 1 keeps their contrast up to white, 3"
        " parts the brightest tones most and lets them end hard.",
        unit="stops per stop",
        minimum=0,
        maximum=3,
    )
    toe: float = parameter(
        1.0,
        "Slope at black: 0 lets the shadows settle softly, 1 keeps their contrast down to black, 3"
        " parts the darkest tones most and lets them end hard.",
        unit="stops per stop",
        minimum=0,
        maximum=3,
    )
    points: list[Pair] = parameter(
        [],
        "[from, to] pairs in stops from middle grey that bend the curve's result; both must rise.",
        unit="stops",
    )

    @model_validator(mode="after")
    def _rising(self):
        columns = list(zip(*self.points, strict=True))
        if any(b <= a for column in columns for a, b in zip(column, column[1:], strict=False)):
            raise ValueError("the points must rise from one to the next, in both numbers")
        return self


def _rational(t, secant, start, end):
    """Rise from 0 to 1 of Gregory and Delbourgo's segment, for t in 0..1."""
    rest = t * (1 - t)
    return (secant * t * t + start * rest) / (secant + (start + end - 2 * secant) * rest)


def curve(parameters: ToneCurve, stops: np.ndarray) -> np.ndarray:
    """The curve itself: picture stops from middle grey for scene stops from middle grey.

    Outside of ``black``..``white`` it goes on with a slope of 1 below and the slope of the
    shoulder above.

    Parameters
    ----------
    parameters : ToneCurve
    stops : ndarray, float64

    Returns
    -------
    ndarray, float64

    Examples
    --------
    >>> curve(ToneCurve(), np.array([-2.0, 0.0, 1.0])).round(6).tolist()
    [-2.0, 0.0, 1.0]
    >>> curve(ToneCurve(white=4, shoulder=0), np.array([0.0, 4.0, 6.0])).round(2).tolist()
    [0.0, 2.47, 2.47]
    """
    p = parameters
    up = WHITE_STOPS * _rational(
        np.clip(stops / p.white, 0, 1), WHITE_STOPS / p.white, p.contrast, p.shoulder
    )
    down = DISPLAY_BLACK * _rational(
        np.clip(stops / p.black, 0, 1), DISPLAY_BLACK / p.black, p.contrast, p.toe
    )
    beyond = p.shoulder * np.maximum(stops - p.white, 0) + np.minimum(stops - p.black, 0)
    shaped = np.where(stops >= 0, up, down) + beyond
    return _through_points(p.points, shaped) if p.points else shaped


def _through_points(points, stops):
    """Monotone cubic through the points, going on with a slope of 1 at either end."""
    x, y = np.array(points, float).T
    if len(x) == 1:
        return stops + (y - x)
    h = np.diff(x)
    secant = np.diff(y) / h
    slope = np.concatenate([secant[:1], _harmonic(secant, h), secant[-1:]])
    i = np.clip(np.searchsorted(x, stops, side="right") - 1, 0, len(h) - 1)
    t = np.clip((stops - x[i]) / h[i], 0, 1)
    inside = (
        y[i]
        + h[i] * t * (1 - t) * (slope[i] * (1 - t) - slope[i + 1] * t)
        + (y[i + 1] - y[i]) * t * t * (3 - 2 * t)
    )
    return inside + np.minimum(stops - x[0], 0) + np.maximum(stops - x[-1], 0)


def _harmonic(secant, h):
    """Slopes at the inner points: the weighted harmonic mean of Fritsch and Butland (1984)."""
    left, right = 2 * h[1:] + h[:-1], h[1:] + 2 * h[:-1]
    return (left + right) / (left / secant[:-1] + right / secant[1:])


def prepare(parameters: ToneCurve, signal: Signal) -> np.ndarray:
    """Factor on Oklab (L, a, b) for L from 0 to `TABLE_TOP`, float32, `TABLE_SIZE` + 1 long."""
    lightness = np.linspace(0, TABLE_TOP, TABLE_SIZE + 1)
    lightness[0] = lightness[1] / 1024
    if parameters == ToneCurve():
        return np.ones(TABLE_SIZE + 1, np.float32)
    stops = np.log2(lightness**3 / MIDDLE_GREY)
    return np.exp2((curve(parameters, stops) - stops) / 3).astype(np.float32)


def prepare_local(parameters: ToneCurve, signal: Signal) -> np.ndarray | None:
    """As `prepare`, but None where nothing would change."""
    return None if parameters == ToneCurve() else prepare(parameters, signal)


def apply(rgb: np.ndarray, factors: np.ndarray) -> np.ndarray:
    """Scene light (linear BT.2020) to a picture (Oklab), on the curve."""
    matrices = oklab.WORKING_TO_LMS, oklab.LMS_TO_OKLAB
    return kernels.picture.apply_tone_curve(rgb, factors, TABLE_TOP, *matrices)


def apply_local(lab: np.ndarray, factors: np.ndarray) -> np.ndarray:
    """Picture (Oklab), on the curve."""
    return kernels.picture.scale_by_lightness(lab, factors, TABLE_TOP)


def amplify(signal: Signal, factors: np.ndarray) -> Signal:
    """The signal with the gain of noise that the curve has at middle grey."""
    grey = TABLE_SIZE / TABLE_TOP * np.cbrt(MIDDLE_GREY)
    steps = np.arange(TABLE_SIZE + 1)
    lightness = steps * factors
    slope = np.interp(grey + 1, steps, lightness) - np.interp(grey - 1, steps, lightness)
    return signal.amplified(float(slope / 2))


LOCAL = Stage(
    "tone_curve", ("picture",), "picture", ToneCurve, prepare_local, apply_local,
    kernels=("apply_tone_curve",),
)  # fmt: skip
STAGE = Stage(
    "tone_curve", ("scene",), "picture", ToneCurve, prepare, apply,
    amplify=amplify, kernels=("apply_tone_curve",), local=LOCAL,
)  # fmt: skip
