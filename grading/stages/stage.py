"""What a stage is: one declaration from which everything else follows.

A stage module declares its parameters as a model (unit, range, default, one line of doc a
parameter), turns them into constants once a frame (`prepare`), and applies the constants to
pixels (`apply`). Validation, messages, the JSON schema, ``explain``, the tables in the
documentation, the units in a diff and generated tests all come from that one model.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    WithJsonSchema,
    model_validator,
)

from grading.colour import munsell
from grading.docstrings import docstring
from grading.signal import State


def complete_schema(schema: dict, model: type) -> None:
    """Add to a model's JSON schema what pydantic leaves out."""
    if text := docstring(model):
        schema["description"] = text
    if model.exclusive:
        schema["exclusive"] = [list(group) for group in model.exclusive]


class Model(BaseModel):
    """A group of recipe keys: unknown keys are refused, values never change once read.

    ``exclusive`` names groups of keys that are several ways to state one thing. Stating two
    of a group is an error; a recipe that extends another and states one drops the others.
    """

    model_config = ConfigDict(
        extra="forbid",
        frozen=True,
        strict=True,
        allow_inf_nan=False,
        json_schema_extra=complete_schema,
    )
    exclusive: ClassVar[tuple] = ()

    @model_validator(mode="after")
    def _one_of_each_group(self):
        fields = type(self).model_fields
        stated = {
            fields[name].alias or name
            for name in self.model_fields_set
            if getattr(self, name) is not None
        }
        for group in self.exclusive:
            several = [key for key in group if key in stated]
            if len(several) > 1:
                raise ValueError(f"state only one of {', '.join(several)}")
        return self


def parameter(
    default: Any,
    doc: str,
    *,
    unit: str | None = None,
    minimum: float | None = None,
    maximum: float | None = None,
    **more: Any,
) -> Any:
    """A recipe key with its unit, range and one line of doc; the default leaves alone."""
    return Field(
        default,
        description=doc,
        ge=minimum,
        le=maximum,
        json_schema_extra={"unit": unit} if unit else None,
        **more,
    )


def _degrees_of_hue(value):
    if not isinstance(value, str):
        return value
    return munsell.hue_degrees(value.strip())


MUNSELL_HUE = re.compile(r"^(10(\.0+)?|\d(\.\d+)?)?(R|YR|Y|GY|G|BG|B|PB|P|RP)$")

Hue = Annotated[
    float,
    BeforeValidator(_degrees_of_hue),
    Field(ge=0, le=360),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 0, "maximum": 360},
                {
                    "type": "string",
                    "pattern": MUNSELL_HUE.pattern,
                    "description": "a Munsell hue such as 5PB",
                },
            ]
        }
    ),
]
"""Degrees of Oklab hue, or a Munsell hue such as ``5PB`` (ASTM D1535)."""

Point = Annotated[list[Annotated[float, Field(ge=0, le=1)]], Field(min_length=2, max_length=2)]
"""[x, y] as fractions of the width and height of the upright, uncropped frame."""


@dataclass(frozen=True)
class Part:
    """Keys of a recipe that act apart from the pipeline, such as those about the frame itself.

    What it has in common with a `Stage` bears the same names, so that whatever reads, checks,
    resolves or explains recipes treats both alike.

    Attributes
    ----------
    name : str
        The recipe key.
    parameters : type of Model
        The keys under its name; the docstring of their module is what ``explain`` prints.
    resolve, warn : callable, optional
    kernels : tuple of str
        As in `Stage`.
    """

    name: str
    parameters: type[Model]
    resolve: Callable[[Any, Any], Any] | None = None
    warn: Callable[[Any, Any], list[str]] | None = None
    kernels: tuple[str, ...] = ()


@dataclass(frozen=True)
class Stage:
    """One step of the pipeline.

    Attributes
    ----------
    name : str
        The recipe key.
    takes : tuple of {"camera", "scene", "picture"}
        States of pixels that the stage accepts (see `grading.signal`).
    gives : {"scene", "picture"} or None
        State of the pixels that leave it; None for that which they came in.
    parameters : type of Model
        The keys under the stage's name.
    prepare : callable
        ``prepare(parameters, signal)`` -> constants, or None where nothing would change.
    apply : callable
        ``apply(pixels, constants)`` -> pixels of their own memory, shape (3, rows, columns),
        float32, C-contiguous; with ``guide`` also ``apply(pixels, constants, guide_planes)``.
    resolve : callable, optional
        ``resolve(parameters, frame)`` -> parameters stated in numbers, for what needs the
        whole frame (a sampled neutral).
    warn : callable, optional
        ``warn(parameters, facts)`` -> sentences for a person about what a recipe, before it is
        resolved, asks of a frame.
    guide : callable, optional
        ``guide(reduced_pixels, constants)`` -> planes (n, rows, columns) at reduced size, which
        the engine interpolates to the pixels of a tile; with ``spread`` anything.
    spread : callable, optional
        ``spread(guide, factor, top, bottom, left, right)`` -> what `apply` is given of a guide on a
        tile, instead of interpolated planes; ``factor`` pixels each way are one of the guide's.
    ahead : callable, optional
        ``ahead(guide_planes, reduced_pixels, constants, onward)`` -> planes in place of those of
        the guide, from the reduced frame as it leaves the stage and a function that takes such
        pixels through all steps to come, to the picture. The planes themselves where it has
        nothing to ask.
    placed : bool
        Whether `apply` is told where in the frame the pixels are:
        ``apply(pixels, constants, here)``, before any planes.
    reach : callable, optional
        ``reach(constants)`` -> how many pixels in each direction a pixel depends on. Then it is
        ``apply(pixels, constants, here, there)``, before any planes, which are those of ``here``:
        the region of the frame of which the pixels are, and the one within it of which pixels are
        wanted. It ends as far within as the reach goes, except at the borders of the frame.
    amplify : callable
        ``amplify(signal, constants)`` -> the signal with the gain of noise that the stage brings.
    affine : callable, optional
        ``affine(constants)`` -> matrix and offset on linear light, shape (3, 4), of a stage of
        scene light that is no more than that, so that open formats can carry it.
    mixed : callable, optional
        ``mixed(constants, matrix)`` -> the constants of a stage of linear light that takes what it
        gives through a matrix, shape (3, 3), float32, so that a step after it which does no more
        needs no pass; None where it cannot.
    kernels : tuple of str
        Rehearsals of the kernels that it uses (see `grading.engine.rehearse`).
    part : str or None
        The recipe key whose parameters it takes, where that is not its own name.
    local : bool or Stage
        Whether the stage may be applied through a mask, directly after its whole-frame self; a
        Stage where that has other parameters.
    """

    name: str
    takes: tuple[State, ...]
    gives: State | None
    parameters: type[Model]
    prepare: Callable[[Any, Any], Any]
    apply: Callable[..., Any]
    resolve: Callable[[Any, Any], Any] | None = None
    warn: Callable[[Any, Any], list[str]] | None = None
    guide: Callable[[Any, Any], Any] | None = None
    spread: Callable[..., Any] | None = None
    ahead: Callable[..., Any] | None = None
    reach: Callable[[Any], int] | None = None
    placed: bool = False
    amplify: Callable[[Any, Any], Any] = lambda signal, constants: signal
    affine: Callable[[Any], Any] | None = None
    mixed: Callable[[Any, Any], Any] | None = None
    kernels: tuple[str, ...] = ()
    part: str | None = None
    local: "bool | Stage" = False

    @property
    def through_mask(self) -> "Stage | None":
        """The stage that a local adjustment offers; None where there is none."""
        return (self if self.local is True else self.local) or None

    @property
    def is_pointwise(self) -> bool:
        """Whether a pixel depends on its own colour only."""
        return self.guide is None and self.reach is None and not self.placed
