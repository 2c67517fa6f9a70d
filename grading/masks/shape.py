"""What a mask is made of: a shape on the frame, or what its light is; one declaration each."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field, model_validator

from grading import kernels
from grading.region import Region
from grading.stages.stage import Model

Mask = Callable[[Region, np.ndarray | None], np.ndarray]
"""From a region, and its planes of light (see `grading.masks.light`) where the mask reads them, to
weights, shape (rows, columns), float32 in 0..1."""

Place = Annotated[
    list[Annotated[float, Field(ge=-1, le=2)]], Field(min_length=2, max_length=2)
]
"""[x, y] that may lie outside of the frame."""


@dataclass(frozen=True)
class Ground:
    """The frame on which masks lie.

    Attributes
    ----------
    width, height : int
    factor : int
        How many of its pixels, each way, make one of the reduced frame; a power of two.
    light : ndarray, optional
        Planes of light of the reduced frame, for masks that are grown from what they read.
    """

    width: int
    height: int
    factor: int = 1
    light: np.ndarray | None = None

    @property
    def long_edge(self) -> int:
        """Pixels."""
        return max(self.width, self.height)

    @property
    def reduced(self) -> "Ground":
        """The reduced frame itself."""
        width, height = -(-self.width // self.factor), -(-self.height // self.factor)
        return Ground(width, height, 1, self.light)


@dataclass(frozen=True)
class Shape:
    """A shape on the frame, or a window on what its light is.

    Attributes
    ----------
    name : str
        The recipe key.
    parameters : type of Model
        The keys under it; the docstring says what the shape is.
    mask : callable
        ``mask(parameters, ground)`` -> the mask on that frame.
    kernels : tuple of str
        Rehearsals of the kernels that it uses (see `grading.engine.rehearse`).
    reads : {"light", "detail"}, optional
        What it must be given of the frame: nothing, its light, or its detail too.
    """

    name: str
    parameters: type[Model]
    mask: Callable[[Any, Ground], Mask]
    kernels: tuple[str, ...]
    reads: Literal["light", "detail"] | None = None


class Window(Model):
    """A window on a scale, open to one side unless both ends are stated."""

    @model_validator(mode="after")
    def _some_end(self):
        if self.above is None and self.below is None:
            raise ValueError("state above, below or both")
        if None not in (self.above, self.below) and self.above >= self.below:
            raise ValueError("above must be less than below")
        return self

    def mask(self, scale: Callable[[np.ndarray], np.ndarray]) -> Mask:
        """The weight of what a function of the planes of light gives."""
        above = -np.inf if self.above is None else self.above
        below = np.inf if self.below is None else self.below
        return lambda region, light: kernels.mask.window(
            scale(light), above, below, self.feather
        )
