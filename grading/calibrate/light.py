"""A camera's matrix under one light, from one frame of the chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from grading.calibrate.chart import PATCHES, WHITE, reference
from grading.calibrate.find import find_chart, from_corners
from grading.calibrate.fit import Fit, fit, measure
from grading.calibrate.patches import read_patches
from grading.colour.adaptation import cat16
from grading.colour.camera import neutral_to_xy, xyz_to_camera
from grading.colour.spaces import xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy, xy_to_kelvin_duv
from grading.errors import OriginalError
from grading.files.originals import open_frame
from grading.stages.calibrated import LEAST_APART

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from grading.calibrate.chart import Reference
    from grading.frame import Frame

MAX_ERROR = 5.0
"""Mean CIEDE2000 after the fit above which it is not the chart, or not in one light.

Two measured cameras, one of them far from the eye's sensitivities, stay below 3 on average, and
below 9.5 for each patch, under all LEDs of CIE 015:2018 (tests/truth/test_calibration.py)."""

WORST_ERROR = 14.0
"""CIEDE2000 of a single patch, likewise."""

MAX_FALL = 0.3
"""Change of the light across the chart, as a share of that in its middle."""

MAX_FLARE = 0.1
"""Light that lies on all patches alike, as a share of white."""


@dataclass(frozen=True)
class MeasuredLight:
    """What one frame of the chart says of its camera.

    Attributes
    ----------
    frame : Frame
        For its facts.
    kelvin, duv : float
        The light, as it was stated, or as the file's own matrices tell it from the neutral patches;
        rounded, as they are written.
    matrix : ndarray, shape (3, 3)
        CIE 1931 XYZ to camera RGB. Light of that kelvin and Duv becomes `after.neutral`.
    before, after : Fit
        The patches by the file's own matrices, balanced on the neutral patches, and by `matrix`.
    """

    frame: Frame
    kelvin: float
    duv: float
    matrix: np.ndarray
    before: Fit
    after: Fit


def calibrate_frames(
    paths: Sequence[Path],
    edition: str,
    corners: Sequence[Sequence[tuple[float, float]]] = (),
    lights: Sequence[tuple[float, float]] = (),
) -> tuple[list[MeasuredLight], Reference]:
    """The camera's matrices from files, each with the chart in another light.

    Parameters
    ----------
    paths : sequence of Path
    edition : str
        Of the chart, one of `grading.calibrate.chart.EDITIONS`.
    corners, lights : sequence, optional
        For each file, as `calibrate` takes them.

    Returns
    -------
    list of MeasuredLight
    Reference
        The colours of the chart.

    Raises
    ------
    OriginalError
        If a file cannot be opened, the chart in it does not serve, or the files do not go together.
    """
    colours = reference(edition)
    unstated = [None] * len(paths)
    each = zip(paths, corners or unstated, lights or unstated, strict=True)
    measured = [calibrate(open_frame(path), colours, *stated) for path, *stated in each]
    _check_together(measured)
    return measured, colours


def calibrate(
    frame: Frame,
    reference: Reference,
    corners: Sequence[tuple[float, float]] | None = None,
    light: tuple[float, float] | None = None,
) -> MeasuredLight:
    """The camera's matrix under the light of a frame of the chart.

    Parameters
    ----------
    frame : Frame
    reference : Reference
        Colours of the chart.
    corners : sequence of four (x, y), optional
        Outer corners of the patches at the corners, in fractions of the frame; the chart is found
        unless given.
    light : (float, float), optional
        Kelvin and Duv of the light; as the file's own matrices tell it unless given.

    Raises
    ------
    OriginalError
        If the frame has no camera light, or the chart in it is not found or does not serve.
    """
    _check_camera(frame)
    place = from_corners(frame, corners, reference) if corners else find_chart(frame, reference)
    if place is None:
        raise OriginalError(
            f"no chart of {PATCHES} patches is found",
            place=str(frame.facts.path),
            remedy="photograph it larger and from the front, or state its four --corners",
        )
    patches = read_patches(frame, place)
    try:
        kelvin, duv, matrix, before, after = _fitted(patches, frame.facts.camera, reference, light)
    except (ValueError, np.linalg.LinAlgError) as error:
        raise _no_chart(frame, f"no light makes its greys neutral ({error})") from None
    _check_fit(frame, after)
    return MeasuredLight(frame, kelvin, duv, matrix, before, after)


def _check_camera(frame):
    facts = frame.facts
    if facts.camera is None:
        what = "a monochrome sensor" if facts.monochrome else "a rendered picture"
        raise OriginalError(
            f"{what} has no camera matrix to calibrate",
            place=str(facts.path),
            allowed="a raw file in colour",
            remedy="take the raw file of that exposure",
        )
    if not (facts.capture.make and facts.capture.model):
        raise OriginalError(
            "the file does not say which camera made it",
            place=str(facts.path),
            allowed="a make and a model, by which frames of that camera are known",
            remedy="take the file as the camera wrote it",
        )


def _fitted(patches, camera, reference, light):
    """Kelvin, Duv, matrix, and the fits before and after."""
    after = fit(patches, reference)
    xy = neutral_to_xy(camera, after.neutral)
    own = _to_day(camera, xy)
    own *= (WHITE / (own @ after.neutral))[:, None]
    before = measure(own * after.neutral, after.neutral, patches, reference)
    kelvin, duv = (float(each) for each in light or xy_to_kelvin_duv(xy))
    kelvin, duv = round(kelvin, 1), round(duv, 5)
    adaptation = cat16(xy_to_xyz(kelvin_duv_to_xy(kelvin, duv)), WHITE)
    matrix = after.neutral[:, None] * np.linalg.solve(after.matrix, adaptation)
    return kelvin, duv, matrix, before, after


def _to_day(camera, xy):
    """Camera light to XYZ relative to D65, by the file's own matrices."""
    return cat16(xy_to_xyz(xy), WHITE) @ np.linalg.inv(xyz_to_camera(camera, xy))


def _check_fit(frame, fitted):
    fall, flare = np.abs(fitted.photograph.fall).max(), fitted.photograph.flare.max()
    mean, worst = fitted.errors.mean(), fitted.errors.max()
    if not (mean <= MAX_ERROR and worst <= WORST_ERROR):
        raise _no_chart(
            frame, f"after the fit they still differ by {mean:.1f} CIEDE2000, one by {worst:.1f}"
        )
    if fall > MAX_FALL:
        raise OriginalError(
            f"the light on the chart is uneven: it changes by {fall:.0%} across it",
            place=str(frame.facts.path),
            allowed=f"up to {MAX_FALL:.0%}",
            remedy="turn the chart to the light, or move the lamp away",
        )
    if flare > MAX_FLARE:
        raise OriginalError(
            f"a veil of light lies on the chart, {flare:.0%} of white",
            place=str(frame.facts.path),
            allowed=f"up to {MAX_FLARE:.0%}",
            remedy="shade the lens, and turn the chart so that it reflects nothing bright",
        )


def _no_chart(frame, reason):
    return OriginalError(
        f"the patches do not have the colours of the chart: {reason}",
        place=str(frame.facts.path),
        allowed=f"{MAX_ERROR:g} on average, {WORST_ERROR:g} for one",
        remedy="use a clean chart of 24 patches in one light, without shadows or reflections; "
        "if it was found in the wrong place, state its four --corners",
    )


def _check_together(lights):
    """Refuse frames of several cameras, and two lights that are too much alike."""
    first = lights[0].frame.facts
    for light in lights[1:]:
        facts = light.frame.facts
        if _camera(facts) != _camera(first):
            raise OriginalError(
                f"made by {facts.capture.camera}",
                place=str(facts.path),
                allowed=f"{first.capture.camera}, as {first.path.name} is",
                remedy="calibrate each camera into a file of its own",
            )
        apart = abs(1e6 / light.kelvin - 1e6 / lights[0].kelvin)
        if apart < LEAST_APART:
            raise OriginalError(
                f"its light of {light.kelvin:.0f} K is {apart:.0f} mired from that of "
                f"{first.path.name}",
                place=str(facts.path),
                allowed=f"{LEAST_APART:g} mired or more between two lights",
                remedy="calibrate each light into a file of its own",
            )


def _camera(facts):
    return facts.capture.make, facts.capture.model
