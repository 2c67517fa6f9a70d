"""Spots: places mended from their surroundings, such as dust on the sensor leaves in a sky.

Each is a disc: the middle, and a radius that holds all of the spot. The light about it fills it,
with its texture and noise, before anything else is done, so no stage sees the spot. Where an edge
passes through it, and nothing about it is like it, a spot stays as it is; a run and the sidecar say
so.

Dust lies at the same place of the sensor in every frame. `grading spots` finds it in the frames of
a card and writes a recipe with its ``dust``, which others extend, or which a shoot file names;
turned frames need no other list. It states the ``camera``, and its ``serial`` number where the
files do: frames of another camera are left alone, and a run says so.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from grading.frame import Capture, Facts, Frame, Pixels
from grading.mending import LEAST, MendedPixels, Spot, mended
from grading.messages import listed
from grading.pixels import upright_place
from grading.stages.stage import Model, Part, Point, parameter


class Place(Model):
    at: Point = parameter(
        ..., "[x, y]: the middle of a spot.", unit="fractions of the frame's width and height"
    )
    radius: float = parameter(
        ...,
        "Its radius.",
        unit="fraction of the long edge",
        minimum=0.0002,
        maximum=0.05,
    )


class Spots(Model):
    dust: Annotated[list[Place], Field(max_length=500)] = parameter(
        [], "Spots of the sensor, as `grading spots` finds them: in its picture, not yet upright."
    )
    camera: str | None = parameter(
        None, "Camera whose dust it is, make and model: dust is mended in its frames alone."
    )
    serial: str | None = parameter(
        None, "Serial number of its body, which tells it from others of the model."
    )
    places: Annotated[list[Place], Field(max_length=500)] = parameter(
        [], "Places of the upright frame, each with at and radius, mended in their order."
    )

    @property
    def body(self) -> str:
        """The camera in words."""
        model = self.camera or "a camera"
        return model if self.serial is None else f"{model}, serial number {self.serial}"

    def is_of(self, capture: Capture) -> bool:
        """Whether its dust is that of the camera of a frame, as far as the files say.

        >>> Spots(camera="Invented One", serial="7").is_of(Capture(model="Invented One"))
        True
        """
        if self.camera is not None and self.camera != capture.camera:
            return False
        return None in (self.serial, capture.serial) or self.serial == capture.serial


def resolve(parameters: Spots, frame: Frame) -> Spots:
    """All spots as places of the upright frame; of dust, only if its camera made the frame."""
    orientation = frame.facts.orientation
    dust = [
        Place(at=list(upright_place(orientation, *spot.at)), radius=spot.radius)
        for spot in (parameters.dust if parameters.is_of(frame.facts.capture) else ())
    ]
    return Spots(places=dust + parameters.places)


def warn(parameters: Spots, facts: Facts) -> list[str]:
    """A sentence where the dust is another camera's."""
    if not parameters.dust or parameters.is_of(facts.capture):
        return []
    return [f"no dust is mended here, for the list is that of {parameters.body}"]


def without_spots(frame: Frame, parameters: Spots) -> Frame:
    """A frame whose spots are mended; the frame itself where there are none."""
    if not parameters.places:
        return frame
    width, height = frame.facts.width, frame.facts.height
    spots = [
        Spot(x * width, y * height, max(place.radius * max(width, height), LEAST))
        for place in parameters.places
        for x, y in [place.at]
    ]
    return mended(frame, tuple(spots))


def places_left(pixels: Pixels) -> list[list[float]]:
    """Where spots stay as they are: x and y as fractions of the frame.

    Parameters
    ----------
    pixels : Pixels
        Of a frame from `without_spots`.
    """
    if not isinstance(pixels, MendedPixels):
        return []
    return [
        [round(spot.x / pixels.width, 5), round(spot.y / pixels.height, 5)] for spot in pixels.left
    ]


def note_of_left(places: list[list[float]]) -> list[str]:
    """A sentence on the spots that stay as they are, if there are any.

    >>> note_of_left([[0.25, 0.5]])[0].partition(":")[0]
    'spots that nothing about them can mend stay as they are, at [0.25, 0.5]'
    """
    if not places:
        return []
    where = listed([f"[{x:g}, {y:g}]" for x, y in places])
    return [
        f"spots that nothing about them can mend stay as they are, at {where}: state another radius"
        " or place for them, or leave them out of this frame's spots"
    ]


PART = Part("spots", Spots, resolve=resolve, warn=warn)
