"""The light that masks read: one and the same for all stages of an adjustment.

It is the scene light after exposure, denoise and lift of the whole frame, without any local
adjustment and before any toning, smoothed along edges so that no noise shows. A mask reads planes
of it: stops from middle grey, a and b of Oklab, and, where a mask asks for it, detail.
"""

from dataclasses import dataclass

import numpy as np

from grading import kernels
from grading.colour import oklab
from grading.signal import Signal

AFTER = "lift"
"""The stage after which light is read."""

EDGE = 0.12
"""Difference, as a share of the luminance, that counts as an edge; ours."""

NOISE = 4.0
"""Variances of the noise that count as much as an edge: two pixels have two, and some differ more;
ours."""

PASSES = 4
"""Of the smoothing, in pixels of the original."""

WINDOW = 1 / 200
"""Radius in which detail is measured, as a fraction of the long edge; ours."""

SOFT = 0.05
"""Variance in squared stops that detail must follow to keep to an edge of lightness; ours."""


@dataclass(frozen=True)
class Smoothing:
    """How light is smoothed: passes, and variance of its noise by light and without."""

    passes: int
    photon: float = 0.0
    read: float = 0.0

    @property
    def reach(self) -> int:
        """Pixels in each direction that a pixel depends on."""
        return kernels.smooth_light.reach(self.passes)


def smoothing(signal: Signal) -> Smoothing:
    """How the light of a signal is smoothed: as far as in the original, by its noise.

    Parameters
    ----------
    signal : Signal
        Of the light itself.
    """
    passes = max(0, PASSES - (signal.scale.bit_length() - 1))
    if signal.noise is None:
        return Smoothing(passes)
    mixing = np.array(signal.mixing)
    spread = np.square(mixing).sum()
    grey = np.array(kernels.base.LUMINANCE, np.float64) @ mixing.sum(axis=1)
    return Smoothing(
        passes, float(spread * signal.noise.gain / grey), float(spread * signal.noise.offset)
    )


def planes_of(rgb: np.ndarray, how: Smoothing) -> np.ndarray:
    """Stops from middle grey, and a and b of Oklab, of smoothed light.

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Scene light.
    how : Smoothing
        The outermost pixels, as far as it reaches, are those of the frame at its borders only.

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    noise = NOISE * how.photon, NOISE * how.read
    light = kernels.smooth_light.smooth_light(rgb, EDGE, *noise, how.passes)
    planes = np.empty(rgb.shape, np.float32)
    matrices = np.float32(oklab.WORKING_TO_LMS), np.float32(oklab.LMS_TO_OKLAB)
    kernels.picture.to_oklab(np.ascontiguousarray(light), planes, *matrices)
    planes[0] = kernels.base.stops_from_grey(light)
    return planes


def detail_guide(rgb: np.ndarray, how: Smoothing) -> np.ndarray:
    """Planes (slope, offset) by which detail follows from stops of light at full size.

    The deviation is the least of nine windows, the pixel's own and those beside it, so that an edge
    beside which there is room for one is none (after Kuwahara et al., Digital Processing of
    Biomedical Images, 1976); from memory. The planes are those of a guided filter (He, Sun and
    Tang, IEEE PAMI 35:1397, 2013).

    Parameters
    ----------
    rgb : ndarray, shape (3, rows, columns), float32
        Scene light of the whole frame at reduced size.
    how : Smoothing
        Of this size; its noise is taken off.

    Returns
    -------
    ndarray, shape (2, rows, columns), float32
    """
    stops = kernels.base.stops_from_grey(rgb).astype(np.float64)
    light = kernels.base.MIDDLE_GREY * np.exp2(stops)
    noise = (how.photon * light + how.read) / 3 / np.square(light * np.log(2))
    radius = max(1, round(WINDOW * max(stops.shape)))

    def mean(plane):
        return kernels.base.box_mean(plane, radius)

    middle, squares = mean(stops), mean(np.square(stops))
    variance = squares - np.square(middle)
    detail = np.sqrt(_least_beside(np.maximum(variance - mean(noise), 0), radius))
    slope = (mean(stops * detail) - middle * mean(detail)) / (np.maximum(variance, 0) + SOFT)
    offset = mean(detail) - slope * middle
    return np.stack([mean(slope), mean(offset)]).astype(np.float32)


def _least_beside(plane, radius):
    """The least of a pixel and of those at a distance in eight directions, for each pixel."""
    rows, columns = plane.shape
    wide = np.pad(plane, radius, mode="edge")
    starts = (0, radius, 2 * radius)
    beside = (wide[y : y + rows, x : x + columns] for y in starts for x in starts)
    return np.minimum.reduce(list(beside))


def with_detail(planes: np.ndarray, guide: np.ndarray) -> np.ndarray:
    """Planes of light and of detail, shape (4, rows, columns), from the guide at these pixels."""
    detail = np.maximum(guide[0] * planes[0] + guide[1], np.float32(0))
    return np.concatenate([planes, detail[None]])
