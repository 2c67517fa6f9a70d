"""What a camera's settings let in, from the rounded numbers that files state.

Dials move in thirds or halves of a stop, but are labelled with round numbers: 1/60 s lasts 1/64 s,
and f/11 is f/11.3. The true values are powers of two (ISO 2720; the labels are common practice, no
source). A number that is not round, such as 1/137 s, is no label and taken as it is.
"""

from __future__ import annotations

from math import log2

from grading.frame import Capture

FARTHEST = 0.12
"""Stops from a step of a dial beyond which a number is no label of it."""


def true_stops(stated: float, stops_each: int = 1) -> float:
    """log2 of what a number on a dial stands for, times the stops that a doubling makes.

    >>> true_stops(1 / 60), true_stops(1 / 90), round(true_stops(3.5, 2), 3)
    (-6.0, -6.5, 3.667)
    """
    stops = stops_each * log2(stated)
    nearest = min((round(stops * n) / n for n in (3, 2)), key=lambda step: abs(step - stops))
    label = abs(nearest - stops) <= FARTHEST and (_is_round(stated) or _is_round(1 / stated))
    return nearest if label else stops


def _is_round(number):
    """Whether it has two digits, or is 125 or 1250."""
    digits = f"{number:.4g}".replace(".", "").strip("0")
    return len(digits) <= 2 or digits == "125"


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
    return true_stops(aperture, 2) - true_stops(shutter) - true_stops(speed / 100)
