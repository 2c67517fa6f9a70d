"""What a frame's exposure makes of it: clipping, headroom, floor, noise, and the scene's light.

Exposure value and luminance are those of ISO 2720 with K = 12.5; a metered luminance is recorded at
12.7 % of saturation (ISO 12232:2006, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log2

import numpy as np

from grading.develop.mosaic import MosaicPixels
from grading.frame import Capture, Frame, Noise
from grading.inspect.dials import exposure_value, true_stops

K = 12.5
METERED = 0.127
MIDDLE_GREY = 0.18
CLIPPED = 0.985
"""Share of white from which on a site counts as clipped."""

BRIGHT = 0.995
"""Share of the sites that is darker than the level of the lights."""

SAMPLES = 400_000
"""Blocks of a mosaic that are looked at, about."""

LEAST = 1e-6


@dataclass(frozen=True)
class Exposure:
    """The exposure of a frame.

    Attributes
    ----------
    clipped : tuple of float
        Shares of red, green and blue that are clipped.
    headroom : tuple of float
        Of each colour, stops from its lights (brighter than all but 0.5 %) to white.
    middle : float
        Mean log2 of green, in stops from white.
    black : float
        Share of all sites that is at the black level or below.
    floor : float or None
        Stops from white to where the noise is as large as the signal; None without a noise model.
    grey_ratio : float or None
        Signal to noise at middle grey, 18 % of white, of one site.
    ev100 : float or None
        Exposure value of the settings at ISO 100.
    luminance : float or None
        Mean of the scene in cd/m², by the settings and what green recorded.
    """

    clipped: tuple[float, float, float]
    headroom: tuple[float, float, float]
    middle: float
    black: float
    floor: float | None
    grey_ratio: float | None
    ev100: float | None
    luminance: float | None


def exposure(frame: Frame) -> Exposure:
    """Measure the exposure of a frame.

    Parameters
    ----------
    frame : Frame
        An original.
    """
    channels = _channels(frame)
    green, noise = channels[1], frame.facts.noise
    lights = [float(np.partition(c, int(BRIGHT * (c.size - 1)))[int(BRIGHT * (c.size - 1))])
              for c in channels]  # fmt: skip
    ev = exposure_value(frame.facts.capture)
    every = np.concatenate(channels)
    return Exposure(
        clipped=tuple(float((each >= CLIPPED).mean()) for each in channels),
        headroom=tuple(max(0.0, -log2(max(each, LEAST))) for each in lights),
        middle=float(np.log2(np.maximum(green, LEAST)).mean(dtype=np.float64)),
        black=float((every <= 0).mean()),
        floor=None if noise is None else _floor(noise),
        grey_ratio=_ratio_at_grey(noise),
        ev100=ev,
        luminance=None if ev is None else luminance(ev) * float(green.mean()) / METERED,
    )


def _ratio_at_grey(noise):
    """Signal to noise at middle grey; None where the noise is not known, or there is none."""
    variance = noise.variance(MIDDLE_GREY) if noise else 0
    return MIDDLE_GREY / variance**0.5 if variance > 0 else None



def _channels(frame):
    """Red, green and blue signal of some or all sites, 1 at white."""
    pixels = frame.pixels
    if not isinstance(pixels, MosaicPixels):
        return [plane.ravel() for plane in frame.reduced(2)]
    sensor, sites = pixels.sensor, {}
    step = 2 * max(1, round((pixels.mosaic.size / 4 / SAMPLES) ** 0.5))
    for site in range(4):
        top, left = (sensor.phase[0] + site // 2) % 2, (sensor.phase[1] + site % 2) % 2
        counts = pixels.mosaic[top::step, left::step].astype(np.float32)
        lines = sensor.row_black[top::step, None] + sensor.column_black[left::step]
        sites[site] = ((counts - sensor.black[site] - lines) * sensor.scale[site]).ravel()
    return [sites[0], np.concatenate([sites[1], sites[2]]), sites[3]]


def _floor(noise: Noise) -> float:
    """Stops from white to the signal x with x² = gain x + offset.

    >>> round(_floor(Noise(2e-4, 1e-6)), 2)
    9.82
    """
    signal = noise.gain / 2 + (noise.gain**2 / 4 + noise.offset) ** 0.5
    return -log2(max(signal, LEAST))


def luminance(ev: float) -> float:
    """Luminance in cd/m² that a meter wants this exposure value at ISO 100 for: K 2^EV / 100.

    >>> luminance(0), luminance(10)
    (0.125, 128.0)
    """
    return K / 100 * 2**ev


def handheld_limit(capture: Capture) -> float | None:
    """Longest time in seconds by the rule of thumb 1 / (2 f), f in mm as on a full frame.

    Common practice, no source: a note, never a verdict. Where the file does not say what f is on a
    full frame, f itself is taken.

    >>> handheld_limit(Capture(focal_length=50))
    0.01
    """
    focal = capture.focal_length_full_frame or capture.focal_length
    return 1 / (2 * focal) if focal else None


def breaks_handheld_rule(capture: Capture) -> bool:
    """Whether the time is longer than `handheld_limit`, by a third of a stop or more."""
    limit = handheld_limit(capture)
    if limit is None or capture.shutter is None:
        return False
    return true_stops(capture.shutter) > log2(limit) + 0.3
