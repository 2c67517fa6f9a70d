"""What a camera's settings let in, from the rounded numbers that files state.

Dials move in thirds or halves of a stop, but are labelled with round numbers: 1/60 s lasts 1/64 s,
and f/11 is f/11.3. The true values are powers of two (ISO 2720; the labels are common practice).
"""

from __future__ import annotations

from math import log2

from grading.frame import Capture

FARTHEST = 0.12
"""Stops from a step of a dial beyond which a number is taken as it is."""


def snapped(stops: float) -> float:
    """The nearest third or half of a stop, or the number itself where none is near.

    >>> snapped(log2(1 / 60)), snapped(log2(1 / 90)), round(snapped(2 * log2(3.5)), 3)
    (-6.0, -6.5, 3.667)
    """
    nearest = min((round(stops * n) / n for n in (3, 2)), key=lambda step: abs(step - stops))
    return nearest if abs(nearest - stops) <= FARTHEST else stops


def exposure_value(capture: Capture) -> float | None:
    """Exposure value at the ISO speed, in stops: a step more lets half the light in.

    EV = log2(N² / t) - log2(S / 100), of true settings. None where the file does not say all.

    >>> from grading.frame import Capture
    >>> exposure_value(Capture(shutter=1 / 60, aperture=8, iso=200))
    11.0
    """
    settings = capture.shutter, capture.aperture, capture.iso
    if None in settings:
        return None
    shutter, aperture, speed = settings
    return snapped(2 * log2(aperture)) - snapped(log2(shutter)) - snapped(log2(speed / 100))
