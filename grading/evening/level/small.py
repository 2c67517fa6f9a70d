"""A frame as levelling sees it: small, in camera light, with what can be trusted marked."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from grading.evening.captured import Captured
from grading.frame import Camera, Frame
from grading.inspect.dials import exposure_value

EDGE = 400
"""Pixels that the longer side has at most."""

CLIPPED, QUIET = 0.7, 10.0
"""From which share of white a mean may hold clipped light; signal to noise of what counts."""


@dataclass(frozen=True)
class Small:
    """A frame for levelling.

    Attributes
    ----------
    captured : Captured
    light : ndarray, shape (3, rows, columns), float32
        Camera light (working light of a rendered original).
    trusted : ndarray, shape (rows, columns), bool
        Neither clipped nor noisy.
    neutral : ndarray, shape (3,)
        What the camera took for neutral, green 1.
    camera : Camera or None
        None for a rendered original.
    dials : float or None
        `exposure_value` of its settings.
    over, under : float
        Shares of the frame that are clipped, and that are lost in noise.
    """

    captured: Captured
    light: np.ndarray = field(repr=False)
    trusted: np.ndarray = field(repr=False)
    neutral: np.ndarray
    camera: Camera | None = field(repr=False)
    dials: float | None
    over: float
    under: float

    @property
    def lens(self) -> tuple[float | None, float | None]:
        """Focal length and aperture, on which the fall of light to the corners depends."""
        capture = self.captured.capture
        return capture.focal_length, capture.aperture


def small(frame: Frame, captured: Captured) -> Small:
    """A frame as levelling sees it.

    Parameters
    ----------
    frame : Frame
        The original.
    captured : Captured
    """
    factor = 1
    while max(frame.region.shape) / factor > EDGE:
        factor *= 2
    light = frame.reduced(factor)
    noise = frame.facts.noise
    floor = QUIET * np.sqrt(noise.averaged(factor**2 / 2).variance(0.002)) if noise else 0.002
    over = (light > CLIPPED).any(axis=0)
    under = (light < max(floor, 1e-5)).any(axis=0)
    camera = frame.facts.camera
    neutral = np.ones(3) if camera is None else camera.neutral / camera.neutral[1]
    return Small(
        captured, light, ~(over | under), neutral, camera, exposure_value(captured.capture),
        float(over.mean()), float(under.mean()),
    )  # fmt: skip
