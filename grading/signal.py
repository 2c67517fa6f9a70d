"""What travels beside the pixels through the stages: their state, their scale, their noise."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from grading.frame import Facts, Frame, Noise

State = Literal["camera", "scene", "picture"]
"""Image state of pixels: linear camera RGB; linear ITU-R BT.2020 with D65; Oklab of a picture.
The term is that of ISO 22028-1."""

GUIDE_EDGE = 1024
"""The long edge of a guide is at most so many pixels."""


@dataclass(frozen=True)
class Signal:
    """What is known of the pixels where a stage takes them.

    Attributes
    ----------
    facts : Facts
        Of the frame, with the size that it has here.
    state : {"camera", "scene", "picture"}
    scale : int
        How many pixels of the original, each way, make one of these.
    corners : tuple of four (float, float)
        Where the corners of the finished picture lie in the frame, in fractions, clockwise from
        the top left.
    mixing : tuple of three tuples of three float
        What the stages so far have made of the channels that the frame has: a matrix, at middle
        grey and for the whole frame.
    """

    facts: Facts
    state: State
    scale: int = 1
    corners: tuple[tuple[float, float], ...] = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
    mixing: tuple[tuple[float, ...], ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))

    @classmethod
    def of(cls, frame: Frame) -> Signal:
        """The signal of a frame's own pixels."""
        state = "scene" if frame.facts.camera is None else "camera"
        return cls(frame.facts, state, frame.scale)

    @property
    def noise(self) -> Noise | None:
        """The noise of these pixels in camera light, before any stage; None if it is not known.

        A mean of k x k pixels holds k * k / 4 sites of a mosaic's red, and of its blue.
        """
        noise = self.facts.noise
        return noise if noise is None or self.scale == 1 else noise.averaged(self.scale**2 / 4)

    @property
    def gain(self) -> tuple[float, float, float]:
        """By how much the stages so far have raised the deviation of the noise in each channel."""
        return tuple(np.sqrt(np.square(self.mixing).sum(axis=1)).tolist())

    @property
    def guide_factor(self) -> int:
        """How many of these pixels, each way, make one of a guide: a power of two."""
        return self.facts.factor_to(GUIDE_EDGE)

    def reduced(self, factor: int) -> Signal:
        """The signal of means of factor x factor pixels."""
        width, height = -(-self.facts.width // factor), -(-self.facts.height // factor)
        facts = replace(self.facts, width=width, height=height)
        return replace(self, facts=facts, scale=self.scale * factor)

    def amplified(self, matrix: np.ndarray | float) -> Signal:
        """The signal after its channels are mixed, or multiplied by one factor.

        Parameters
        ----------
        matrix : ndarray, shape (3, 3), or float

        Returns
        -------
        Signal
        """
        matrix = matrix * np.eye(3) if np.ndim(matrix) == 0 else np.asarray(matrix, np.float64)
        mixing = matrix @ np.array(self.mixing)
        return replace(self, mixing=tuple(map(tuple, mixing.tolist())))
