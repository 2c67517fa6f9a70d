"""Places by how colourful they are."""

import numpy as np

from grading.masks.shape import Ground, Mask, Shape, Window
from grading.stages.stage import parameter

_RANGE = dict(unit="Oklab chroma", minimum=0, maximum=0.6)


class Chroma(Window):
    """Places by how colourful they are: greys have a chroma of 0, vivid colours 0.1 and more."""

    above: float | None = parameter(
        None, "From here on, at half weight; absent: from grey.", **_RANGE
    )
    below: float | None = parameter(
        None, "Up to here, at half weight; absent: to the most vivid colour.", **_RANGE
    )
    feather: float = parameter(
        0.03, "Width of the fade about each end.", unit="Oklab chroma", minimum=0, maximum=0.3
    )


def mask(parameters: Chroma, ground: Ground) -> Mask:
    """The mask of a range of chroma."""
    return parameters.mask(lambda light: np.hypot(light[1], light[2]))


SHAPE = Shape("chroma", Chroma, mask, ("smooth_light", "window"), "light")
