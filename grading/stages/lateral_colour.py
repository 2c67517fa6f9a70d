"""Lateral colour: red and blue taken from where the lens put them, relative to green.

Where a file holds maps of gains, what these say of red and blue other than of green is carried out
here as well: a cast of colour towards the corners.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.lens.optics import Warp
from grading.region import Region
from grading.signal import Signal
from grading.stages.lens import Lens, optics
from grading.stages.stage import Stage

SMALLEST = 0.02
"""Pixels of the largest shift that is worth a resampling; ours."""

NET = 33
"""Places each way at which shifts are looked at."""

EVEN = 1e-4
"""Gains of red and blue relative to green that differ less from 1 are none; ours."""


class Constants(NamedTuple):
    """Shifts of red and blue, how far the largest goes in pixels, the gains of red and blue
    relative to green, and a matrix on what is made; None where there are none."""

    red: tuple | None
    blue: tuple | None
    largest: float
    gains: np.ndarray | None
    height: int
    width: int
    matrix: np.ndarray | None = None


def prepare(parameters: Lens, signal: Signal) -> Constants | None:
    """Shifts in pixels; None where nothing is to be undone."""
    width, height = signal.facts.width, signal.facts.height
    found = optics(parameters, signal.facts)
    share = parameters.lateral_colour
    shifts = [
        _shift(warp.shared(share), width, height) if warp else (None, 0.0)
        for warp in (found.red, found.blue)
    ]
    (red, _), (blue, _) = shifts
    gains = _relative(found.gains, parameters.vignetting)
    if red is None and blue is None and gains is None:
        return None
    largest = max(size for _, size in shifts)
    return Constants(red, blue, largest, gains, height, width)


@lru_cache(maxsize=256)
def _shift(warp: Warp, width, height):
    """A warp in pixels, None where it moves nothing that can be seen, and its largest shift, to the
    ends of runs beyond the frame; from a net of places from edge to edge. Frames share a lens."""
    x, y = np.meshgrid(np.linspace(0, width, NET), np.linspace(0, height, NET))
    moved = np.subtract(warp.to_frame(x, y, width, height), (x, y))
    largest = float(np.abs(moved).max())
    if largest < SMALLEST:
        return None, 0.0
    change = np.abs(np.diff(moved, axis=2)).max() / (width / (NET - 1))
    lateral = kernels.lateral
    run = next((run for run in lateral.RUNS if run * change <= lateral.EVENLY), lateral.RUNS[-1])
    radial = np.zeros(lateral.TERMS)
    radial[: len(warp.radial)] = warp.radial
    radial[0] -= 1
    (across, down), unit = warp.centre, warp.unit * max(width, height)
    place = across * width, down * height, unit
    return lateral.Shift(*place, tuple(radial), *warp.tangential, run), largest + run * change


def _relative(gains, share):
    if gains is None or not share:
        return None
    gains = 1 + share * (gains - 1)
    relative = (gains[::2] / gains[1]).astype(np.float32)
    return relative if np.abs(relative - 1).max() > EVEN else None


def reach(constants: Constants) -> int:
    """The whole pixels of the largest shift, and the taps beyond."""
    if constants.red is None and constants.blue is None:
        return 0
    return min(int(constants.largest), kernels.lateral.MOST) + kernels.delays.TAPS // 2


def apply(rgb: np.ndarray, constants: Constants, here: Region, there: Region) -> np.ndarray:
    """Light with red and blue where green is."""
    c = constants
    out = kernels.lateral.shift_colours(rgb, here, there, c.red, c.blue, c.matrix)
    if c.gains is not None:
        out[::2] *= kernels.nodes.at_nodes(c.gains, there, c.height, c.width)
    return out


def mixed(constants: Constants, matrix: np.ndarray) -> Constants | None:
    """What also mixes the colours; None where it does, or where maps follow."""
    if constants.gains is not None or constants.matrix is not None:
        return None
    return constants._replace(matrix=matrix)


STAGE = Stage(
    "lateral_colour", ("camera", "scene"), None, Lens, prepare, apply, reach=reach, mixed=mixed,
    part="lens", kernels=("lateral_colour",),
)  # fmt: skip
