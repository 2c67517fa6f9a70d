"""All measures of one frame, from one reduced picture of it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from grading.frame import Capture, Frame, Noise
from grading.inspect.blur import Blur, find_blur, is_convincing
from grading.inspect.exposure import Exposure, exposure
from grading.inspect.lean import Lean, find_lean
from grading.inspect.likeness import small_picture
from grading.inspect.sharpness import detail_by_zone, sharpest, softness, telling
from grading.inspect.windows import CELL, SIDE, cells, windows
from grading.pixels import block_means

SCALE = 2
"""Pixels of the original that make one of the reduced picture, each way: at this size no site of a
mosaic has to be guessed, and the noise stays white."""

ROWS = 1200
"""From so many on, a picture is made smaller before its lean and its likeness are looked for."""

SOFT = 4.0
"""Pixels of blur along any direction from which on it is looked for at smaller size too."""

DIRECTIONS = range(0, 180, 30)

SITES = 4
"""Of a block: one red, two green, one blue."""


@dataclass(frozen=True)
class Measures:
    """What is measured of a frame.

    Attributes
    ----------
    capture : Capture
    exposure : Exposure
    softness : float or None
        Blur of the sharpest places, as the deviation of a Gaussian in pixels of the original; None
        where no place shows more than noise.
    sharpest : tuple of float or None
        Where that is, x and y as fractions of the frame.
    blur : Blur or None
        What blurred the whole frame; None where nothing did beyond doubt.
    lean : Lean or None
        How far it leans; None where that is in doubt.
    detail : ndarray, shape (9,), float64
        Of each zone, for comparing frames of one scene; see `detail_by_zone`.
    picture : ndarray, shape (64, 64), float32
        For likeness; see `small_picture`.
    """

    capture: Capture = field(repr=False)
    exposure: Exposure
    softness: float | None
    sharpest: tuple[float, float] | None
    blur: Blur | None
    lean: Lean | None
    detail: np.ndarray = field(repr=False)
    picture: np.ndarray = field(repr=False)


def measure(frame: Frame) -> Measures:
    """Measure a frame.

    Parameters
    ----------
    frame : Frame
        An original, at least 128 pixels each way if its sharpness is to be told.

    Returns
    -------
    Measures
    """
    light = _light(frame)
    noise = _noise(frame, light)
    shown = windows(light, SCALE, noise)
    shown = shown.those(telling(shown))
    found = sharpest(shown)
    soft, place = found or (None, None)
    blur = _blur(light, noise, shown)
    moved = blur is not None and blur.kind == "moved"  # which turns edges
    small = _smaller(light, noise)
    return Measures(
        capture=frame.facts.capture,
        exposure=exposure(frame),
        softness=soft,
        sharpest=place,
        blur=blur,
        lean=None if moved else find_lean(*small),
        detail=detail_by_zone(shown),
        picture=small_picture(small[0]),
    )


def _light(frame):
    """Mean of all sites of each block, in which the noise is least for its light."""
    red, green, blue = frame.reduced(SCALE)
    light = red + blue
    light += green
    light += green
    light /= np.float32(SITES)
    return light


def _noise(frame, light):
    """The noise of a pixel at reduced size."""
    if frame.facts.noise is not None:
        return frame.facts.noise.averaged(SITES)
    return Noise(0.0, _quietest(light))


def _quietest(light):
    """Variance of the noise in the quietest tenth of a picture (Immerkær, CVIU 64:300, 1996)."""
    side = 16
    rows, columns = ((size - 2) // side * side for size in light.shape)
    if not rows or not columns:
        return 0.0
    bent = light[:, :-2] - 2 * light[:, 1:-1] + light[:, 2:]
    bent = (bent[:-2] - 2 * bent[1:-1] + bent[2:])[:rows, :columns]
    squares = (bent**2).reshape(rows // side, side, columns // side, side).mean((1, 3))
    return float(np.quantile(squares, 0.1)) / 36


def _smaller(light, noise):
    """A picture of no more rows than its lean and its likeness need, and its noise."""
    if light.shape[0] < ROWS:
        return light, noise
    return cells(light), noise.averaged(CELL**2)


def _blur(light, noise, shown):
    """What blurred a frame, looked for at smaller sizes too where it is very soft."""
    scale = SCALE
    found = find_blur(shown)
    while not is_convincing(found) and _softest(shown) > SOFT and min(light.shape) > 6 * SIDE:
        light, noise, scale = block_means(light[None], 2)[0], noise.averaged(4), 2 * scale
        shown = windows(light, scale, noise)
        shown = shown.those(telling(shown))
        found = find_blur(shown)
    return found if is_convincing(found) else None


def _softest(shown):
    """Blur of the sharpest places along the direction in which they are softest."""
    return max(softness(shown, angle) for angle in DIRECTIONS) if len(shown) else 0.0
