"""What a shape of a mask is: one declaration, as a stage has."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from grading.region import Region
from grading.stages.stage import Model

Mask = Callable[[Region], np.ndarray]

Place = Annotated[
    list[Annotated[float, Field(ge=-1, le=2)]], Field(min_length=2, max_length=2)
]
"""[x, y] that may lie outside of the frame."""


@dataclass(frozen=True)
class Shape:
    """A shape on the frame.

    Attributes
    ----------
    name : str
        The recipe key.
    parameters : type of Model
        The keys under it; the docstring says what the shape is.
    mask : callable
        ``mask(parameters, width, height)`` -> the mask for a frame of that size: a function from a
        Region to weights, shape (rows, columns), float32 in 0..1.
    """

    name: str
    parameters: type[Model]
    mask: Callable[[Any, int, int], Mask]
