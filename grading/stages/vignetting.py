"""Vignetting: the falloff of light towards the corners, undone where the light is linear.

It stands after the reduction of noise, which then meets light as noisy as the sensor made it: the
factor is the same for all channels, so it makes no difference to what stands between.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.region import Region
from grading.signal import Signal
from grading.stages.lens import Lens, optics
from grading.stages.stage import Stage

TERMS = 5
"""Coefficients that a kernel takes."""


class Constants(NamedTuple):
    """Arguments of `grading.kernels.lens.multiply_by_gain`; ``gains`` is the map of green's."""

    circle: tuple[float, float, float]
    gain: tuple[float, ...]
    fall: tuple[float, ...]
    share: float
    gains: np.ndarray | None
    height: int
    width: int
    scale: np.float32 = np.float32(1)


def prepare(parameters: Lens, signal: Signal) -> Constants | None:
    """The falloff in pixels; None where none is to be undone."""
    facts = signal.facts
    found = optics(parameters, facts)
    if not parameters.vignetting or (found.falloff is None and found.gains is None):
        return None
    height, width = facts.height, facts.width
    circle, gain, fall = (0.0, 0.0, 1.0), (), ()
    if found.falloff is not None:
        (x, y), unit = found.falloff.centre, found.falloff.unit * max(width, height)
        circle, gain, fall = (x * width, y * height, unit), found.falloff.gain, found.falloff.fall
    gain, fall = (tuple(np.pad(each, (0, TERMS - len(each)))) for each in (gain, fall))
    gains = None if found.gains is None else found.gains[1:2]
    return Constants(circle, gain, fall, parameters.vignetting, gains, height, width)


def apply(rgb: np.ndarray, constants: Constants, region: Region) -> np.ndarray:
    """Light times what undoes the falloff."""
    c = constants
    maps = np.empty((0, *rgb.shape[1:]), np.float32)
    if c.gains is not None:
        maps = kernels.nodes.at_nodes(c.gains, region, c.height, c.width)
    return kernels.lens.multiply_by_gain(
        rgb, maps, region, c.circle, c.gain, c.fall, c.share, c.scale
    )


def mixed(constants: Constants, matrix: np.ndarray) -> Constants | None:
    """What also multiplies all light by a factor; None where a matrix is more than that."""
    factor = matrix[0, 0]
    is_factor = np.array_equal(matrix, factor * np.eye(3))
    return constants._replace(scale=factor * constants.scale) if is_factor else None


STAGE = Stage(
    "vignetting", ("scene",), "scene", Lens, prepare, apply, part="lens", placed=True,
    mixed=mixed, kernels=("vignetting",),
)  # fmt: skip
