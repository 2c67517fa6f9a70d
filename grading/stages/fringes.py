"""Fringes: coloured rims of edges, which a lens leaves about lamps and branches, taken out.

Inside an edge red and blue are kept between the colours of its two sides, so it makes no difference
which hue a fringe has, and a violet lamp stays violet. ``width`` says how far from a pixel both
sides are looked for: it is about how wide an edge is from one even side to the other, fringe and
all; 8 takes out most of what lenses do. A line of colour that is thinner than that, between two
even places, is taken for a fringe as well, so state no more than a frame needs.

Nothing happens in places that are even, nor where little in the neighbourhood is, as in foliage. A
preview shows fringes as wide as they are at its size, and none of edges below 1.5 pixels there.
"""

from typing import NamedTuple

import numpy as np

from grading import kernels
from grading.region import Region
from grading.signal import Signal
from grading.stages.stage import Model, Stage, parameter

NOT_KNOWN = (1e-7, 0.0, 2.5e-5)
"""Variance where the noise is not known: half a per cent of light, and a step of 8 bits in the
dark; ours."""


class Fringes(Model):
    width: float = parameter(
        0.0,
        "How wide an edge may be, from one even side to the other, whose fringe is taken out.",
        unit="pixels of the original",
        minimum=0,
        maximum=16,
    )


class Constants(NamedTuple):
    """Blocks of 2x2 pixels within which both sides are looked for, and the variance, as the kernel
    names them."""

    far: int
    noise: np.ndarray


def prepare(parameters: Fringes, signal: Signal) -> Constants | None:
    """The width and the noise as they are here; None where nothing would change.

    So many blocks on either side of a pixel's own reach half a pixel farther than twice as many
    pixels, on average.
    """
    far = round((parameters.width / signal.scale - 0.5) / 2)
    if far <= 0:
        return None
    noise = NOT_KNOWN if signal.noise is None else (signal.noise.offset, signal.noise.gain, 0.0)
    return Constants(far, np.float32(noise))


def reach(constants: Constants) -> int:
    """Pixels that the kernel looks at."""
    return kernels.fringes.reach(constants.far)


def apply(rgb: np.ndarray, constants: Constants, here: Region, there: Region) -> np.ndarray:
    """Light with the colours of edges bounded."""
    return kernels.fringes.bound_colours(rgb, here, there, *constants)


STAGE = Stage(
    "fringes", ("camera", "scene"), None, Fringes, prepare, apply,
    reach=reach, kernels=("fringes",),
)  # fmt: skip
