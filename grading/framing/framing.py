"""Framing: level and upright, free of keystone, and what of the frame is shown.

The frame is turned about its middle, by ``straighten`` or by a line that should be ``level``, or
upright, whichever is nearer. ``keystone`` is what lines that run together take to be parallel: by
how much one edge of the frame is drawn apart; two lines that should be ``parallel`` state it by
themselves, and the turn as well where nothing else does. A line is two places of the frame.

What is shown is the largest part in the frame's own ``aspect`` that has no empty corner; another
``aspect``, a smaller ``size`` and another ``centre`` choose otherwise. ``crop`` states a box in the
frame once it is turned: from 0 to 1 is what the frame took up before, at the same scale. It is
moved inwards, and where that is not enough made smaller, so that no corner is empty, unless
``corners`` asks for them. All other places in a recipe are those of the frame as it was shot, so
turning it moves no mask.

Everything is one map, sampled once, in the light of the destination (Lanczos's window of three
lobes in two passes: Catmull and Smith, Computer Graphics 14(3):279, 1980). Without a focal length a
keystone leaves the proportion of height to width as it is in the middle of the frame. Beyond some
20 degrees of turn the finest detail becomes a little softer.
"""

from __future__ import annotations

import math
import re
from typing import Annotated, Literal

import numpy as np
from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from grading.errors import OriginalError
from grading.frame import Frame
from grading.framing.fit import Bounds
from grading.framing.lines import leaning, parallel
from grading.framing.view import WHOLE, View
from grading.lens.optics import Warp
from grading.stages.stage import Model, Part, Point, parameter

RATIO = re.compile(r"^[1-9]\d?(\.\d{1,3})?:[1-9]\d?(\.\d{1,3})?$")
KEYSTONES = 0.3
"""Largest keystone either way."""

TURNS = 45.0
"""Most degrees either way; quarter turns are the business of the file."""

LEAST = 0.01
"""Of the frame's side: the smallest side of a crop."""

FILLS = {"cut": None, "black": 0.0, "white": 1.0}


def _ratio(value):
    if isinstance(value, str) and RATIO.match(value.strip()):
        first, second = value.split(":")
        return float(first) / float(second)
    return value


Aspect = Annotated[
    float,
    BeforeValidator(_ratio),
    Field(ge=0.01, le=100),
    WithJsonSchema(
        {
            "anyOf": [
                {"type": "number", "minimum": 0.01, "maximum": 100},
                {"type": "string", "pattern": RATIO.pattern, "description": "a ratio such as 3:2"},
            ]
        }
    ),
]
"""Width to height, a number or such as 3:2."""

Line = Annotated[list[Point], Field(min_length=2, max_length=2)]


class Keystone(Model):
    vertical: float = parameter(
        0.0,
        "Enlarges the top edge 1 / (1 - vertical) times, and below 0 the bottom edge likewise.",
        unit="fraction",
        minimum=-KEYSTONES,
        maximum=KEYSTONES,
    )
    horizontal: float = parameter(
        0.0,
        "Enlarges the right edge 1 / (1 - horizontal) times, and below 0 the left edge likewise.",
        unit="fraction",
        minimum=-KEYSTONES,
        maximum=KEYSTONES,
    )


_SIDE = dict(unit="fraction of the frame", minimum=-2, maximum=3)


class Crop(Model):
    left: float = parameter(0.0, "Where the picture begins, from the left.", **_SIDE)
    top: float = parameter(0.0, "Where it begins, from the top.", **_SIDE)
    right: float = parameter(1.0, "Where it ends, from the left.", **_SIDE)
    bottom: float = parameter(1.0, "Where it ends, from the top.", **_SIDE)

    @model_validator(mode="after")
    def _in_order(self):
        for low, high in (("left", "right"), ("top", "bottom")):
            if getattr(self, high) - getattr(self, low) < LEAST:
                raise ValueError(f"{high} must be greater than {low} by {LEAST:g} or more")
        return self

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom."""
        return self.left, self.top, self.right, self.bottom


class Framing(Model):
    exclusive = (
        ("straighten", "level"),
        ("keystone", "parallel"),
        ("crop", "aspect"),
        ("crop", "centre"),
        ("crop", "size"),
    )

    straighten: float | None = parameter(
        None,
        "Turn of the picture; anticlockwise above 0.",
        unit="degrees",
        minimum=-TURNS,
        maximum=TURNS,
    )
    level: Line | None = parameter(
        None, "[[x, y], [x, y]]: a line that should be level, or upright; whichever is nearer."
    )
    keystone: Keystone | None = parameter(None, "What makes lines that run together parallel.")
    parallel: Annotated[list[Line], Field(min_length=2, max_length=2)] | None = parameter(
        None, "Two lines that should be parallel: both upright, or both level; whichever is nearer."
    )
    crop: Crop | None = parameter(None, "What is shown, a box in the turned frame.")
    aspect: Aspect | None = parameter(
        None, "Width to height of what is shown; that of the frame unless stated."
    )
    centre: Point | None = parameter(
        None,
        "[x, y]: a place of the frame that the middle of what is shown comes as near to as it can.",
        unit="fractions of the frame's width and height",
    )
    size: float | None = parameter(
        None,
        "Width of what is shown, as a share of the largest that has no empty corner.",
        unit="fraction",
        minimum=0.05,
        maximum=1,
    )
    corners: Literal["cut", "black", "white"] = parameter(
        "cut", "Empty corners: cut off, or kept and filled."
    )

    @model_validator(mode="after")
    def _two_places(self):
        for line in [*filter(None, [self.level]), *(self.parallel or ())]:
            if math.dist(*line) < LEAST:
                raise ValueError("the two places of a line must lie apart")
        return self


def settled(parameters: Framing, width: int, height: int, warp: Warp | None = None) -> Framing:
    """Framing in numbers: degrees, keystone and crop, for a frame of that size.

    Parameters
    ----------
    parameters : Framing
    width, height : int
        Of the frame, in pixels.
    warp : Warp, optional
        Distortion of its lens, which moves its border and the places that are stated.

    Raises
    ------
    ValueError
        Where lines ask for more than there may be.
    """
    if parameters == Framing() and warp is None:
        return parameters
    view = View(width, height, 0.0, (0.0, 0.0), WHOLE, warp, FILLS[parameters.corners])
    keystone, angle = _keystone(parameters, view)
    view = View(width, height, 0.0, keystone, WHOLE, warp, view.fill)
    if parameters.level is not None:
        angle = leaning(_on_plane(parameters.level, view))
    elif parameters.straighten is not None:
        angle = parameters.straighten
    view = View(width, height, _within("turn", angle, TURNS), keystone, WHOLE, warp, view.fill)
    box = _box(parameters, view)
    return Framing(
        straighten=angle or None,
        keystone=Keystone(horizontal=keystone[0], vertical=keystone[1]) if any(keystone) else None,
        crop=None if box == WHOLE else Crop(**dict(zip(Crop.model_fields, box, strict=True))),
        corners=parameters.corners,
    )


def _keystone(parameters, view):
    """Keystone, horizontal and vertical, and the turn that lines state with it."""
    if parameters.parallel is not None:
        lines = [_on_plane(line, view) for line in parameters.parallel]
        across, down, angle = parallel(*lines, view.width, view.height)
        for name, value in (("horizontal", across), ("vertical", down)):
            _within(f"{name} keystone", value, KEYSTONES)
        return (across, down), angle
    stated = parameters.keystone or Keystone()
    return (stated.horizontal, stated.vertical), 0.0


def _within(name, value, most):
    if abs(value) > most:
        raise ValueError(f"the lines ask for a {name} of {value:.2f}, and {most:g} is the most")
    return value


def _on_plane(line, view):
    """Places of the frame in the plane of a view, in pixels from its middle, shape (2, 2)."""
    x, y = np.array(line).T * [[view.width], [view.height]]
    x, y = view.pixels_to_picture(x, y)
    return np.column_stack([x - view.width / 2, y - view.height / 2])


def _box(parameters, view):
    """The crop in fractions, of whole pixels."""
    width, height, crop = view.width, view.height, parameters.crop
    if view.fill is not None and parameters.aspect is None and parameters.size is None:
        return crop.box if crop else WHOLE
    bounds = Bounds(view)
    aspect = parameters.aspect or width / height
    tall, wish = bounds.largest(aspect) * (parameters.size or 1), (width / 2, height / 2)
    if parameters.centre is not None:
        wish = _on_plane([parameters.centre], view)[0] + wish
    if crop is not None:
        across, down = (crop.right - crop.left) * width, (crop.bottom - crop.top) * height
        aspect = across / down
        tall = min(down, bounds.largest(aspect))
        wish = (crop.left + crop.right) / 2 * width, (crop.top + crop.bottom) / 2 * height
    box = bounds.box(aspect, tall, wish)
    cut = View(width, height, box=box).crop
    return cut.left / width, cut.top / height, cut.right / width, cut.bottom / height


def resolve(parameters: Framing, frame: Frame, warp: Warp | None) -> Framing:
    """Framing in numbers for a frame, and the distortion of its lens; see `settled`.

    Raises
    ------
    OriginalError
        Where lines ask for more than there may be.
    """
    facts = frame.facts
    try:
        return settled(parameters, facts.width, facts.height, warp)
    except ValueError as error:
        raise OriginalError(
            f"framing: {error}",
            place=str(facts.path),
            remedy="choose lines that lean less, or state straighten and keystone in numbers",
        ) from None


def view_of(parameters: Framing, width: int, height: int, warp: Warp | None = None) -> View:
    """The view of a frame, or of a smaller version of it, by framing in numbers."""
    keystone, crop = parameters.keystone or Keystone(), parameters.crop
    return View(
        width,
        height,
        parameters.straighten or 0.0,
        (keystone.horizontal, keystone.vertical),
        crop.box if crop else WHOLE,
        warp,
        FILLS[parameters.corners],
    )


PART = Part("framing", Framing, kernels=("turned",))
