"""What a shape of a mask is: one declaration, as a stage has."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field

from grading.stages.stage import Model

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
    prepare : callable
        ``prepare(parameters, width, height)`` -> constants, for a frame of that size.
    weigh : callable
        ``weigh(constants, region)`` -> weights, shape (rows, columns), float32 in 0..1.
    """

    name: str
    parameters: type[Model]
    prepare: Callable[[Any, int, int], Any]
    weigh: Callable[[Any, Any], Any]
