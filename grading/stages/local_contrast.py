"""Local contrast: texture and modelling stronger or softer, edges and tones left where they are.

Detail is what parts a pixel from the mean of places near it that are about as bright; its contrast
is multiplied by 1 + ``amount``. Above 0 brings out stone, clouds, foliage, water; below 0 softens
them like mist, or smooths skin. ``scale`` says up to what size things count as detail. Since what
lies beyond an edge has no part in the mean, an edge gets no bright or dark rim, a sky stays even
along a ridge, and detail right beside an edge changes like any other. All three channels get the
same factor, so hue and saturation stay.

Detail is strengthened less where it is weaker than three times the frame's noise, where that is
known, and fades out over the last stop below clipped light. A difference of more than a stop is
taken for an edge rather than detail: the mean is read from a bilateral grid (Chen, Paris and
Durand, ACM Transactions on Graphics 26(3):103, 2007). The stage comes before ``lift``, where the
noise is known best and whose own choice of tones it does not disturb.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

CELLS = 3
"""Cells of the grid for the largest detail: with them, half of the amount is left for detail of
that size, by measurement."""

ABOVE_NOISE = 3.0
"""Deviations of the noise at which detail gets half of the amount; ours."""


class LocalContrast(Model):
    amount: float = parameter(
        0.0,
        "Detail is so much stronger: 0.5 by half; below 0 softer, to none at -1.",
        unit="fraction",
        minimum=-1,
        maximum=1,
    )
    scale: float = parameter(
        0.02,
        "Size of the largest things that count as detail, as a fraction of the long edge.",
        unit="fraction",
        minimum=0.01,
        maximum=0.1,
    )


class Constants(NamedTuple):
    """What the kernel is told, as `grading.kernels.detail.change_detail` says, and the grid's cells
    as a fraction of the long edge."""

    amount: np.float32
    photon: np.float32
    read: np.float32
    per_clip: np.float32
    cell: float


def prepare(parameters: LocalContrast, signal: Signal) -> Constants | None:
    """The numbers of the kernel; softening knows no noise and no clipping; None at amount 0.

    >>> from pathlib import Path
    >>> from grading.frame import Facts
    >>> rendered = Signal(Facts(Path("a.tif"), 600, 400, "none"), "scene")
    >>> [float(c) for c in prepare(LocalContrast(amount=0.5, scale=0.03), rendered)]
    [0.5, 0.0, 0.0, 1.0, 0.01]
    """
    if parameters.amount == 0:
        return None
    photon = read = per_clip = 0.0
    if parameters.amount > 0:
        grey = np.linalg.solve(signal.mixing, np.ones(3))
        photon, read = _noise(signal, grey)
        per_clip = grey.max()
    return Constants(
        np.float32(parameters.amount), np.float32(photon), np.float32(read),
        np.float32(per_clip), parameters.scale / CELLS,
    )  # fmt: skip


def _noise(signal, grey):
    """Variance of grey's luminance for each unit of it, and without light, for the kernel.

    ``grey`` is what the frame's channels have of grey of luminance 1. A deviation of v in light y
    is one of v / (y ln 2) stops.
    """
    if signal.noise is None:
        return 0.0, 0.0
    shares = np.square(kernels.base.LUMINANCE @ np.array(signal.mixing))
    counts = (ABOVE_NOISE / np.log(2)) ** 2
    return counts * signal.noise.gain * (shares @ grey), counts * signal.noise.offset * shares.sum()


def guide(reduced: np.ndarray, constants: Constants):
    """The frame's bilateral grid."""
    return kernels.grid.bilateral_grid(reduced, constants.cell)


def spread(grid, factor: int, *tile: int):
    """The grid as it lies on a tile."""
    return kernels.grid.spread(grid, factor, *tile)


def apply(rgb: np.ndarray, constants: Constants, grid) -> np.ndarray:
    """Scene light with its detail stronger or softer."""
    return kernels.detail.change_detail(rgb, grid, *constants[:4])


STAGE = Stage(
    "local_contrast", ("scene",), "scene", LocalContrast, prepare, apply,
    guide=guide, spread=spread, kernels=("bilateral_grid", "change_detail"), local=True,
)  # fmt: skip
