"""A camera's matrix from the patches of a chart, by least squares in a uniform space.

What is sought is the matrix from balanced camera light to the chart's colours by day that keeps
white exactly, which leaves six numbers. Beside them the fit finds what the photograph adds: the
exposure, light that changes across the chart as a plane does, and flare that lifts all patches
alike and may have a colour of its own. These are taken out of the patches before colours are
compared, and are no part of the matrix.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from grading.calibrate.chart import CENTRES, GREYS, WHITE
from grading.colour.difference import delta_e_2000, xyz_to_lab

if TYPE_CHECKING:
    from collections.abc import Callable

    from grading.calibrate.chart import Reference

_OFFSETS = (CENTRES - CENTRES.mean(axis=0)) / CENTRES.max(axis=0)
"""Places of the patches from the middle of the chart, from -1/2 to 1/2 each way."""

_ROUNDS = 6
"""In which matrix and neutral are found in turn; each moves a quarter of what the last did."""

_PASSES = 60


class Photograph(NamedTuple):
    """What a photograph adds to the colours of a chart.

    Attributes
    ----------
    gain : float
        Exposure: the green of a perfect white in the middle of the chart.
    fall : ndarray, shape (2,)
        Change of the light from one side of the chart to the other, and from top to bottom, as a
        share of that in the middle.
    flare : ndarray, shape (3,)
        Light added to every patch, as a share of what a perfect white reads.
    """

    gain: float
    fall: np.ndarray
    flare: np.ndarray


class Fit(NamedTuple):
    """A matrix, what the photograph added, and how near the patches come.

    Attributes
    ----------
    matrix : ndarray, shape (3, 3)
        Balanced camera light to XYZ relative to D65; its rows add to white.
    neutral : ndarray, shape (3,)
        What a perfect white reads, green 1; camera light is balanced by division.
    photograph : Photograph
    xyz : ndarray, shape (24, 3)
        The patches as the matrix shows them.
    errors : ndarray, shape (24,)
        CIEDE2000.
    """

    matrix: np.ndarray
    neutral: np.ndarray
    photograph: Photograph
    xyz: np.ndarray
    errors: np.ndarray


def measure(
    matrix: np.ndarray, neutral: np.ndarray, patches: np.ndarray, reference: Reference
) -> Fit:
    """How near a matrix that is given comes, once all that the photograph adds is out.

    Parameters
    ----------
    matrix : ndarray, shape (3, 3)
        Balanced camera light to XYZ relative to D65.
    neutral : ndarray, shape (3,)
    patches : ndarray, shape (24, 3)
        Camera light.
    reference : Reference
    """
    balanced = patches / neutral
    start = _start(balanced, reference)
    found = _least_squares(lambda free: _residuals(matrix, free, balanced, reference), start)
    return _fit(matrix, neutral, found, balanced, reference)


def fit(patches: np.ndarray, reference: Reference) -> Fit:
    """The matrix that comes nearest, in the metric of CIEDE2000.

    Parameters
    ----------
    patches : ndarray, shape (24, 3)
        Camera light.
    reference : Reference
    """
    neutral = patches[GREYS].sum(axis=0)
    for _ in range(_ROUNDS):
        neutral = _neutral(_fitted(patches, neutral / neutral[1], reference), reference)
    return _fitted(patches, neutral / neutral[1], reference)


def _fitted(patches, neutral, reference):
    """The nearest matrix for a neutral that is given."""
    balanced = patches / neutral

    def residuals(free):
        return _residuals(_matrix(free[:6]), free[6:], balanced, reference)

    start = _start(balanced, reference)
    first, second, third = _flattened(balanced, start).T[:, :, None]
    columns = np.linalg.lstsq(
        np.hstack([first - third, second - third]), reference.xyz - third * WHITE, rcond=None
    )[0]
    found = _least_squares(residuals, np.concatenate([columns.T.ravel(), start]))
    return _fit(_matrix(found[:6]), neutral, found[6:], balanced, reference)


def _neutral(found, reference):
    """What a perfect white reads, up to exposure, once what the photograph adds is out.

    The neutral patches are not quite neutral, so each is compared with what the matrix makes of
    its colour.
    """
    to_camera = found.neutral[:, None] * np.linalg.inv(found.matrix)
    seen, meant = found.xyz[GREYS] @ to_camera.T, reference.xyz[GREYS] @ to_camera.T
    return found.neutral * (seen / meant * reference.xyz[GREYS, 1:2]).sum(axis=0)


def _matrix(free):
    columns = free.reshape(3, 2)
    return np.column_stack([columns, WHITE - columns.sum(axis=1)])


def _start(balanced, reference):
    """Exposure, fall and flare to begin with: those of the greys, none, none."""
    gain = (balanced[GREYS, 1] / reference.xyz[GREYS, 1]).mean()
    return np.array([np.log(gain), 0.0, 0.0, 0.0, 0.0, 0.0])


def _flattened(balanced, photograph):
    """The patches without what the photograph adds."""
    gain, fall, flare = np.exp(photograph[0]), photograph[1:3], photograph[3:]
    return balanced / (gain * (1 + _OFFSETS @ fall))[:, None] - flare


def _residuals(matrix, photograph, balanced, reference):
    lab = xyz_to_lab(_flattened(balanced, photograph) @ matrix.T, WHITE)
    return _in_tolerances(lab - reference.lab, (lab + reference.lab) / 2).ravel()


def _in_tolerances(differences, lab):
    """Differences in L*a*b* along lightness, chroma and hue, each over its weight in CIEDE2000.

    The weights (ISO/CIE 11664-6:2014) are those half-way between two colours. The stretch of a* and
    the turn of hue against chroma in the blue are left out, so that all is smooth.
    """
    light, chroma = lab[:, 0], np.hypot(lab[:, 1], lab[:, 2])
    hue = np.arctan2(lab[:, 2], lab[:, 1])
    t = (
        1
        - 0.17 * np.cos(hue - np.radians(30))
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + np.radians(6))
        - 0.20 * np.cos(4 * hue - np.radians(63))
    )
    along = differences[:, 1] * np.cos(hue) + differences[:, 2] * np.sin(hue)
    aside = differences[:, 2] * np.cos(hue) - differences[:, 1] * np.sin(hue)
    weights = (
        1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2),
        1 + 0.045 * chroma,
        1 + 0.015 * chroma * t,
    )
    return np.stack([differences[:, 0], along, aside], axis=1) / np.stack(weights, axis=1)


def _least_squares(residuals: Callable[[np.ndarray], np.ndarray], start: np.ndarray) -> np.ndarray:
    """The Levenberg-Marquardt method with a Jacobian from differences.

    J. More, "The Levenberg-Marquardt algorithm: implementation and theory" (1978).
    """
    here, damping = start, 1e-3
    now = residuals(here)
    for _ in range(_PASSES):
        steps = 1e-6 * np.eye(len(here))
        jacobian = np.stack([(residuals(here + step) - now) / 1e-6 for step in steps], axis=1)
        normal, slope = jacobian.T @ jacobian, jacobian.T @ now
        move = np.linalg.solve(normal + damping * np.diag(normal.diagonal()), -slope)
        then = residuals(here + move)
        if then @ then < now @ now:
            gained = 1 - (then @ then) / (now @ now)
            here, now, damping = here + move, then, damping / 10
            if gained < 1e-9:
                break
        else:
            damping *= 10
            if damping > 1e9:
                break
    return here


def _fit(matrix, neutral, photograph, balanced, reference):
    xyz = _flattened(balanced, photograph) @ matrix.T
    errors = delta_e_2000(xyz_to_lab(xyz, WHITE), reference.lab)
    added = Photograph(float(np.exp(photograph[0])), photograph[1:3], photograph[3:])
    return Fit(matrix, neutral, added, xyz, errors)
