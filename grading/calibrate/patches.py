"""The patches of a chart in a frame: their camera light, and whether the photograph serves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.calibrate.chart import CENTRES, PATCHES
from grading.calibrate.find import pitch
from grading.calibrate.homography import project
from grading.errors import OriginalError
from grading.region import Region
from grading.stages.white_balance import CLIPPED

if TYPE_CHECKING:
    from grading.frame import Frame

LEAST_PITCH = 16.0
"""Pixels from one patch to the next; below, the colours of neighbours mix (by demosaicing)."""

LEAST_LIGHT = 1 / 32
"""What the white patch reads, white level 1; below, the dark patches drown in noise."""

MAX_BLUR = 0.25
"""How far light reaches into a patch from its rim, as a share of the step to what lies around."""

_CELL = 24
"""Samples along a cell of the chart: a patch and half of the gaps about it."""

_OFFSETS = (np.arange(_CELL) + 0.5) / _CELL - 0.5
_FROM_MIDDLE = np.maximum(*np.abs(np.meshgrid(_OFFSETS, _OFFSETS)))
_INNER, _RIM = _FROM_MIDDLE < 0.25, (_FROM_MIDDLE > 0.29) & (_FROM_MIDDLE < 0.38)
_GAP = _FROM_MIDDLE > 0.47

_TRIMMED = 0.1
"""Share of the samples of a patch that is left out at either end: dust, and what shines."""

_WHITE_PATCH = 18


def read_patches(frame: Frame, place: np.ndarray) -> np.ndarray:
    """Camera light of the patches of a placed chart.

    Parameters
    ----------
    frame : Frame
    place : ndarray, shape (3, 3)
        From `grading.calibrate.find`.

    Returns
    -------
    ndarray, shape (24, 3), float64

    Raises
    ------
    OriginalError
        If the chart is too small, partly out of the frame, clipped, too dark or out of focus.
    """
    step = pitch(place)
    if not step >= LEAST_PITCH:
        raise OriginalError(
            f"the chart is too small: {step:.0f} pixels from one patch to the next",
            place=str(frame.facts.path),
            allowed=f"{LEAST_PITCH:g} or more",
            remedy="photograph it from nearer, and do not shrink the frame",
        )
    cells = _cells(frame, place, step)
    inner = cells[..., _INNER]
    _check_light(frame, inner)
    _check_focus(frame, cells, inner)
    cut = int(_TRIMMED * inner.shape[-1])
    return np.sort(inner, axis=-1)[..., cut:-cut].mean(axis=-1, dtype=np.float64)


def _cells(frame, place, step):
    """Samples of each cell of the chart, shape (24, 3, rows, columns), one or a few pixels each."""
    factor = 1
    while step / (2 * factor) >= _CELL:
        factor *= 2
    grid = np.stack(np.meshgrid(_OFFSETS, _OFFSETS), axis=-1)
    points = project(place, CENTRES[:, None, None] + grid)
    height, width = frame.pixels.height, frame.pixels.width
    if points.min() < 0 or (points > (width, height)).any():
        raise OriginalError(
            "the chart is not all in the frame",
            place=str(frame.facts.path),
            remedy="photograph it with some room around",
        )
    if factor > 1:
        return _bilinear(frame.reduced(factor), points / factor)
    (left, top), (right, bottom) = points.min(axis=(0, 1, 2)), points.max(axis=(0, 1, 2))
    region = Region(int(top), int(bottom) + 1, int(left), int(right) + 1)
    region = region.grown(1, Region.whole(height, width))
    return _bilinear(frame.pixels.read(region), points - (region.left, region.top))


def _bilinear(planes, points):
    """Samples of planes at points; the middle of the first pixel is (0.5, 0.5)."""
    height, width = planes.shape[1:]
    x, y = np.moveaxis(points - 0.5, -1, 0)
    x, y = np.clip(x, 0, width - 1.001), np.clip(y, 0, height - 1.001)
    left, top = x.astype(int), y.astype(int)
    x, y = x - left, y - top
    above = planes[:, top, left] * (1 - x) + planes[:, top, left + 1] * x
    below = planes[:, top + 1, left] * (1 - x) + planes[:, top + 1, left + 1] * x
    return np.moveaxis(above * (1 - y) + below * y, 0, 1)


def _check_light(frame, inner):
    """Refuse patches that are clipped, and a chart that is too dark."""
    clipped = (inner >= CLIPPED).any(axis=1).mean(axis=-1) > 0.02
    if clipped.any():
        raise OriginalError(
            f"{clipped.sum()} of {PATCHES} patches are clipped",
            place=str(frame.facts.path),
            allowed=f"no patch at {CLIPPED:g} of the white level or above",
            remedy="expose less",
        )
    light = float(np.median(inner[_WHITE_PATCH], axis=-1).max())
    if light < LEAST_LIGHT:
        raise OriginalError(
            f"the chart is too dark: its white patch reads {light:.4f} of the white level",
            place=str(frame.facts.path),
            allowed=f"{LEAST_LIGHT:.3f} or more",
            remedy="expose more",
        )


def _check_focus(frame, cells, inner):
    """Refuse a chart whose patches run into what lies around them.

    Light from beyond the rim of a patch is compared with the step at the rim; steps that are too
    small to tell are left out.
    """
    middle, rim, gap = (
        each.mean(axis=(1, 2)) for each in (inner, cells[..., _RIM], cells[..., _GAP])
    )
    step = np.abs(middle - gap)
    told = step > 0.3 * middle
    blur = float(np.median(np.abs(middle - rim)[told] / step[told])) if told.any() else 0.0
    if blur > MAX_BLUR:
        raise OriginalError(
            f"the chart is out of focus: {blur:.0%} of the step at the rim of a patch reaches "
            "into it",
            place=str(frame.facts.path),
            allowed=f"up to {MAX_BLUR:.0%}",
            remedy="focus on the chart, or photograph it from nearer",
        )
