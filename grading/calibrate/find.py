"""Where the chart lies in a frame: found by its patches, or given by its corners.

Places of even colour that lie on a grid are looked for at three sizes of the frame. Each way to
lay the chart on such a grid, all turns included, is judged by how well the colours there go
together with those of the chart; the best is taken, among equals that of the largest size. A grid
that merely looks like a chart fails later, by the residual of the fit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.calibrate.areas import even_areas
from grading.calibrate.chart import CENTRES, COLUMNS, PATCH_SIDE, ROWS, WHITE
from grading.calibrate.grids import LEAST, grids
from grading.calibrate.homography import homography, project
from grading.colour.difference import delta_e_2000, xyz_to_lab

if TYPE_CHECKING:
    from collections.abc import Sequence

    from grading.calibrate.chart import Reference
    from grading.frame import Frame

LONG_EDGE = 1024
"""Pixels, at most, of the picture in which patches are looked for first."""

TOLERANCES = (0.02, 0.04, 0.08)
"""What an even place may change by, in cube roots of light, the brightest of the frame 1."""

MAX_AREAS = 1200

LIKELY = 12.0
"""Mean CIEDE2000 of a rough fit above which a grid is not taken for the chart at all."""

_ALIKE = 1.0
"""CIEDE2000 by which rough fits differ for no reason; of such the first is the most precise."""

_SPOT = np.stack(np.meshgrid(*2 * [np.linspace(-0.2, 0.2, 5)]), axis=-1).reshape(-1, 2)
_TURN = np.array([[0.0, -1.0], [1.0, 0.0]])


def find_chart(frame: Frame, reference: Reference) -> np.ndarray | None:
    """The perspective from chart coordinates to pixels of a frame, None where there is no chart.

    Parameters
    ----------
    frame : Frame
    reference : Reference

    Returns
    -------
    ndarray, shape (3, 3), or None
        To x and y in pixels of the frame; the corner of the frame is (0, 0).
    """
    factor = _factor(frame)
    candidates = [
        (error, np.diag([smaller, smaller, 1.0]) @ place)
        for smaller in (factor, 2 * factor, 4 * factor)
        for tolerance in TOLERANCES
        for error, place in _candidates(frame.reduced(smaller), tolerance, reference)
    ]
    best = min((error for error, _ in candidates), default=np.inf)
    return next((place for error, place in candidates if error < best + _ALIKE), None)


def from_corners(
    frame: Frame, corners: Sequence[tuple[float, float]], reference: Reference
) -> np.ndarray:
    """The same from the outer corners of the four patches at the corners.

    Parameters
    ----------
    frame : Frame
    corners : sequence of four (x, y)
        In fractions of the frame's width and height, in order around the chart; which comes
        first does not matter.
    reference : Reference
    """
    factor = _factor(frame)
    picture = frame.reduced(factor)
    stated = np.array(corners) * (frame.pixels.width, frame.pixels.height)
    x, y = (stated - stated.mean(axis=0)).T
    stated = stated[np.argsort(np.arctan2(y, x))]  # clockwise as seen, so nothing is mirrored
    half = PATCH_SIDE / 2
    right, bottom = COLUMNS - 1 + half, ROWS - 1 + half
    outer = np.array([(-half, -half), (right, -half), (right, bottom), (-half, bottom)])
    places = [homography(outer, np.roll(stated, turn, axis=0)) for turn in range(4)]
    smaller = np.diag([1 / factor, 1 / factor, 1.0])
    return min(places, key=lambda place: _judge(picture, smaller @ place, reference))


def _factor(frame):
    """By how much the frame is reduced for the first search."""
    factor = 1
    while max(frame.pixels.width, frame.pixels.height) / factor > LONG_EDGE:
        factor *= 2
    return factor


def _candidates(picture, tolerance, reference):
    """Pairs of a rough error and a place of the chart in a picture."""
    bright = np.maximum(np.percentile(picture, 99.5, axis=(1, 2), keepdims=True), 1e-6)
    areas = even_areas(np.cbrt(np.maximum(picture / bright, 0)), tolerance, MAX_AREAS)
    for grid in grids(areas):
        places = np.array([*grid])
        centres = areas.centres[[*grid.values()]]
        placed = [
            (_judge(picture, place, reference), place)
            for place in _placements(places, centres)
            if place is not None
        ]
        best = min(placed, key=lambda candidate: candidate[0], default=(np.inf, None))
        if best[0] < LIKELY:
            yield best


def _placements(places, centres):
    """Every way to lay the chart on a grid, as a perspective or None."""
    for turn in range(4):
        turned = np.round(places @ np.linalg.matrix_power(_TURN, turn).T)
        low, high = turned.min(axis=0), turned.max(axis=0)
        last = high - (COLUMNS - 1, ROWS - 1)
        for x in np.arange(min(low[0], last[0]), max(low[0], last[0]) + 1):
            for y in np.arange(min(low[1], last[1]), max(low[1], last[1]) + 1):
                yield _perspective(turned - (x, y), centres)


def _perspective(places, centres):
    """The perspective from chart coordinates that some areas show, those astray left out."""
    inside = ((places >= 0) & (places < (COLUMNS, ROWS))).all(axis=1)
    for _ in range(3):
        if inside.sum() < LEAST or np.ptp(places[inside], axis=0).min() < 1:
            return None
        place = homography(places[inside], centres[inside])
        astray = np.hypot(*(project(place, places) - centres).T)
        inside &= astray < 0.2 * pitch(place)
    return place


def pitch(place: np.ndarray) -> float:
    """The shortest distance between neighbouring patches of a placed chart, in pixels."""
    centres = project(place, CENTRES).reshape(ROWS, COLUMNS, 2)
    steps = (np.diff(centres, axis=axis).reshape(-1, 2) for axis in (0, 1))
    return float(min(np.hypot(*step.T).min() for step in steps))


def _judge(picture, place, reference):
    """Mean CIEDE2000 of the colours at the patches, each about its middle, in a rough fit."""
    x, y = np.floor(project(place, CENTRES[:, None] + _SPOT)).astype(int).transpose(2, 0, 1)
    height, width = picture.shape[1:]
    if x.min() < 0 or y.min() < 0 or x.max() >= width or y.max() >= height:
        return np.inf
    seen = picture[:, y, x].mean(axis=2, dtype=np.float64).T
    weights = 1 / (reference.xyz[:, 1:2] + 0.05)
    matrix = np.linalg.lstsq(seen * weights, reference.xyz * weights, rcond=None)[0]
    return delta_e_2000(xyz_to_lab(seen @ matrix, WHITE), reference.lab).mean()
