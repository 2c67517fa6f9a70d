"""Lens: vignetting, lateral colour and distortion, undone as the file or a database states.

What a DNG says of its own lens is part of the picture that its maker meant, so it is carried out
where nothing else is stated; other files leave alone. ``from: database`` looks the lens up in an
open database (``pip install 'grading[lens]'``) by the camera and the lens that the file names, and
takes its numbers at the frame's focal length and aperture. ``name`` says which lens it was, for one
that does not tell the camera; JPEG and TIFF originals, which cameras have mostly corrected, are
looked up only in this way. ``numbers`` states all by hand. The sidecar holds the numbers that were
used, and where they are from.

Vignetting is undone in the linear light of the scene, once noise is reduced, so that noise is known
as the sensor had it. Lateral colour is undone in camera light, before anything else: red and blue
are taken from where the lens put them. Distortion is part of the one resampling at the end, so
masks and points stay where they are on the original.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from grading.errors import OriginalError
from grading.frame import Facts, Frame
from grading.lens.database import known_lens
from grading.lens.optics import Falloff, Optics, Warp, farthest
from grading.stages.stage import Model, Part, Point, parameter

FILE, DATABASE, EITHER, NOTHING = "file", "database", "either", "nothing"

_Number = Annotated[float, Field(ge=-1000, le=1000)]
_Powers = Annotated[list[_Number], Field(min_length=1, max_length=5)]
_Share = dict(unit="fraction", minimum=0, maximum=1)


class About(Model):
    """What numbers of a radius refer to."""

    centre: Point = parameter(
        [0.5, 0.5],
        "[x, y]: the axis of the lens.",
        unit="fractions of the frame's width and height",
    )
    unit: float | None = parameter(
        None,
        "Length of the radius 1; absent: from the centre to the farthest corner.",
        unit="fraction of the long edge", minimum=0.05, maximum=20,
    )  # fmt: skip

    def place(self, facts: Facts) -> tuple[tuple[float, float], float]:
        """Centre and unit."""
        return tuple(self.centre), self.unit or farthest(self.centre, facts.width, facts.height)


class WarpNumbers(About):
    """Where a place was recorded, relative to the centre and in units: its radius r times the sum
    of the radial coefficients with the powers of r, and a tangential part."""

    radial: Annotated[list[_Number], Field(min_length=1, max_length=7)] = parameter(
        [1.0], "Coefficients of the powers of the radius, from 0 on; [1] leaves alone."
    )
    tangential: Annotated[list[_Number], Field(min_length=2, max_length=2)] = parameter(
        [0.0, 0.0], "Tangential coefficients, across and down."
    )


class FalloffNumbers(About):
    """Light is multiplied by the first sum and divided by the second; either is 1 plus the
    coefficients times the second, fourth and further even powers of the radius."""

    gain: _Powers | None = parameter(None, "Coefficients of what light is multiplied by.")
    fall: _Powers | None = parameter(None, "Coefficients of what light is divided by.")


class Numbers(Model):
    source: str | None = parameter(None, "Where the numbers are from, in words.")
    lens: str | None = parameter(None, "The lens that they are of.")
    distortion: WarpNumbers | None = parameter(None, "Where the lens bent lines to.")
    red: WarpNumbers | None = parameter(None, "Where red was recorded, relative to green.")
    blue: WarpNumbers | None = parameter(None, "Where blue was recorded, relative to green.")
    vignetting: FalloffNumbers | None = parameter(None, "How light falls off from the centre.")
    gains: bool = parameter(False, "true: with the maps of gains that the file holds.")


class Lens(Model):
    exclusive = (("from", "name", "numbers"),)

    from_: Literal[FILE, DATABASE, EITHER, NOTHING] = parameter(
        FILE,
        "Where the errors of the lens are known from: what the file states, the database of lenses,"
        " either (the file, or else the database) or nothing.",
        alias="from",
    )
    name: str | None = parameter(None, "The lens, as the database calls it.")
    numbers: Numbers | None = parameter(None, "The errors of the lens in numbers.")
    vignetting: float = parameter(1.0, "Share of the falloff of light that is undone.", **_Share)
    lateral_colour: float = parameter(1.0, "Share of the lateral colour that is undone.", **_Share)
    distortion: float = parameter(1.0, "Share of the distortion that is undone.", **_Share)


def resolve(parameters: Lens, frame: Frame) -> Lens:
    """The errors of the frame's lens in numbers, with where they are from.

    Raises
    ------
    OriginalError
        If numbers that are stated are no lens's.
    GradingError
        If the database is asked for and not installed.
    """
    facts = frame.facts
    if parameters.numbers is not None:
        stated = optics(parameters, facts)
        if stated.sound(facts.width, facts.height) != stated:
            raise OriginalError(
                "lens.numbers are more than a lens does to this frame",
                place=str(facts.path),
                allowed="a vignetting of 1/64 to 4 times the light, and a frame that is nowhere "
                "folded over",
                remedy="state other numbers, or none",
            )
        return parameters
    found = _found(parameters, facts)
    if found is not None:
        return parameters.model_copy(update={"from_": FILE, "name": None, "numbers": found})
    if parameters.from_ == FILE and parameters.name is None:
        return parameters
    return parameters.model_copy(update={"from_": NOTHING, "name": None})


def warn(parameters: Lens, facts: Facts) -> list[str]:
    """A sentence where the database is asked for a lens that it does not know."""
    asked = parameters.name or (parameters.from_ in (DATABASE, EITHER) and _is_raw(facts))
    if parameters.numbers or not asked or _found(parameters, facts) is not None:
        return []
    capture = facts.capture
    lens = parameters.name or capture.lens or "a lens that the file does not name"
    at = "" if capture.focal_length else ", whose focal length the file does not state,"
    return [
        f"the database knows no {lens}{at} on {capture.camera or 'an unknown camera'}; "
        "errors of the lens are left as they are"
    ]


def _is_raw(facts):
    return facts.brightest is not None


def _found(parameters, facts):
    """Numbers from where the parameters say; None where there are none."""
    source = DATABASE if parameters.name else parameters.from_
    if source in (FILE, EITHER) and facts.optics is not None:
        return _numbers(facts.optics, "stated in the file", facts.capture.lens)
    if source in (DATABASE, EITHER) and (parameters.name or _is_raw(facts)):
        known = known_lens(facts.capture, facts.width, facts.height, parameters.name)
        if known is not None and not known.optics.is_empty:
            return _numbers(known.optics, "lensfun database", known.name)
    return None


def _numbers(found, source, lens):
    warps = {
        key: warp and WarpNumbers(**_listed(warp))
        for key in ("distortion", "red", "blue")
        if (warp := getattr(found, key)) is not None
    }
    falloff = found.falloff and FalloffNumbers(**_listed(found.falloff))
    return Numbers(
        source=source, lens=lens, vignetting=falloff, gains=found.gains is not None, **warps
    )


def _listed(error):
    """What a dataclass holds, with lists for tuples and without what is empty."""
    values = {
        key: list(value) if isinstance(value, tuple) else value
        for key, value in vars(error).items()
    }
    return {key: value for key, value in values.items() if value != []}


def optics(parameters: Lens, facts: Facts) -> Optics:
    """The errors that parameters state in numbers, whatever share of them is to be undone."""
    numbers = parameters.numbers
    if numbers is None:
        return Optics()
    distortion, red, blue = (
        each and Warp(*each.place(facts), tuple(each.radial), tuple(each.tangential))
        for each in (numbers.distortion, numbers.red, numbers.blue)
    )
    light = numbers.vignetting
    falloff = light and Falloff(
        *light.place(facts), tuple(light.gain or ()), tuple(light.fall or ())
    )
    gains = facts.optics.gains if numbers.gains and facts.optics is not None else None
    return Optics(distortion, red, blue, falloff, gains)


def distortion(parameters: Lens, facts: Facts) -> Warp | None:
    """What is to be undone of the distortion: where each place of the corrected frame is to be
    taken from. None where there is nothing to undo."""
    warp = optics(parameters, facts).distortion
    return warp.shared(parameters.distortion) if warp and parameters.distortion else None


PART = Part("lens", Lens, resolve, warn, kernels=("vignetting", "lateral_colour"))
