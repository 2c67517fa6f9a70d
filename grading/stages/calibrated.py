"""What a recipe knows of cameras that were calibrated on a chart.

A calibration replaces the matrices of a raw file for frames of its camera, which is known by make
and model. One light gives one matrix for all; two are used as those of a file are, interpolated in
reciprocal kelvin.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Annotated

import numpy as np
from pydantic import Field, field_validator, model_validator

from grading.colour.camera import neutral_to_xy, xy_to_neutral
from grading.colour.spaces import xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy, kelvin_to_mired, xy_to_kelvin_duv
from grading.errors import OriginalError
from grading.frame import Calibration, Capture
from grading.messages import listed
from grading.stages.stage import Model, parameter

if TYPE_CHECKING:
    from collections.abc import Sequence

    from grading.frame import Camera, Facts

LEAST_APART = 50.0
"""Mired between two lights of a calibration; nearer ones say too little of any other light."""

_Row = Annotated[
    list[Annotated[float, Field(ge=-100, le=100)]], Field(min_length=3, max_length=3)
]


class Errors(Model):
    """How far the patches of the chart are from their published colours."""

    mean: float = parameter(..., "Mean over the patches.", unit="CIEDE2000", minimum=0, maximum=200)
    worst: float = parameter(
        ..., "Largest of a patch.", unit="CIEDE2000", minimum=0, maximum=200
    )


class ChartFrame(Model):
    """The frame of the chart."""

    name: str = parameter(..., "Name of the file.")
    sha256: str = parameter(..., "SHA-256 of its bytes.")


class CalibratedLight(Model):
    """A camera's matrix under one light."""

    kelvin: float = parameter(
        ...,
        "Correlated colour temperature of the light.",
        unit="kelvin",
        minimum=1000,
        maximum=100000,
    )
    duv: float = parameter(
        ..., "Its distance from the Planckian locus.", unit="Duv", minimum=-0.05, maximum=0.05
    )
    matrix: list[_Row] = parameter(
        ..., "CIE 1931 XYZ to camera RGB, row by row.", min_length=3, max_length=3
    )
    patches: int = parameter(..., "Patches it was fitted to.", minimum=1, maximum=1000)
    before: Errors = parameter(..., "By the matrices of the frame's own file.")
    after: Errors = parameter(..., "By this matrix.")
    frame: ChartFrame = parameter(..., "The frame of the chart.")

    @property
    def xy(self) -> np.ndarray:
        """CIE 1931 chromaticity of the light."""
        return kelvin_duv_to_xy(self.kelvin, self.duv)

    @model_validator(mode="after")
    def _sound(self):
        matrix = np.array(self.matrix)
        if np.linalg.cond(matrix) > 1e4 or (matrix @ xy_to_xyz(self.xy)).min() <= 0:
            raise ValueError(
                "the matrix cannot be inverted, or sees no white in its own light; calibrate again"
            )
        return self


class CalibratedCamera(Model):
    """A camera and its matrices, as `grading calibrate` writes them."""

    make: str = parameter(..., "Maker of the camera, as its files state it.")
    model: str = parameter(..., "Model of the camera, as its files state it.")
    lights: list[CalibratedLight] = parameter(
        ..., "One light, or two of different kelvin.", min_length=1, max_length=2
    )

    @field_validator("lights")
    @classmethod
    def _apart(cls, lights):
        mired = kelvin_to_mired([light.kelvin for light in lights])
        if np.ptp(mired) < LEAST_APART and len(mired) == 2:
            raise ValueError(
                f"two lights only {np.ptp(mired):.0f} mired apart, not {LEAST_APART:g} or more; "
                "make a file of each"
            )
        return lights

    @property
    def name(self) -> str:
        """Make and model in one, see `grading.frame.Capture`."""
        return Capture(make=self.make, model=self.model).camera

    @property
    def calibrations(self) -> tuple[Calibration, ...]:
        """The same as of a raw file, in rising order of kelvin."""
        return tuple(
            Calibration(light.kelvin, np.array(light.matrix), light.xy)
            for light in sorted(self.lights, key=lambda light: light.kelvin)
        )

    def is_like(self, other: CalibratedCamera | Capture) -> bool:
        """Whether make and model are the same; upper and lower case are alike."""
        return _key(self.make, self.model) == _key(other.make or "", other.model or "")

    def white(self, kelvin: float, duv: float, by: Camera) -> tuple[float, float]:
        """What is here kelvin and Duv of a white that the matrices of the file call by others.

        Parameters
        ----------
        kelvin, duv : float
            By the matrices of the file.
        by : Camera
            With these matrices.

        Raises
        ------
        ValueError
            If it is no white to one of them.
        """
        neutral = xy_to_neutral(by, kelvin_duv_to_xy(kelvin, duv))
        own = replace(by, calibrations=self.calibrations)
        kelvin, duv = xy_to_kelvin_duv(neutral_to_xy(own, neutral))
        return float(kelvin), float(duv)


def _key(*names):
    return tuple(" ".join(name.split()).casefold() for name in names)


def of_frame(
    cameras: Sequence[CalibratedCamera] | None, facts: Facts
) -> list[CalibratedCamera] | None:
    """The one camera that made a frame; None for a frame without camera light, or of no cameras.

    Parameters
    ----------
    cameras : sequence of CalibratedCamera, or None
    facts : Facts

    Raises
    ------
    OriginalError
        If none of them made it.
    """
    if not cameras or facts.camera is None:
        return None
    found = [camera for camera in cameras if camera.is_like(facts.capture)]
    if not found:
        raise OriginalError(
            f"made by {facts.capture.camera or 'an unknown camera'}, for which the recipe names no "
            "camera file",
            place=str(facts.path),
            allowed=listed([camera.name for camera in cameras]),
            remedy="calibrate this camera too and add its file to white_balance.cameras, or render "
            "its frames by another recipe",
        )
    return found[:1]


def with_calibration(facts: Facts, cameras: Sequence[CalibratedCamera] | None) -> Facts:
    """The facts of a frame with the matrices of its calibrated camera, if there is one.

    Raises
    ------
    OriginalError
        As `of_frame` does.
    """
    found = of_frame(cameras, facts)
    if not found:
        return facts
    return replace(facts, camera=replace(facts.camera, calibrations=found[0].calibrations))
