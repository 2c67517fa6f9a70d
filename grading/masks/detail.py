"""Places by how much detail they have."""

from grading.masks.shape import Ground, Mask, Shape, Window
from grading.stages.stage import parameter

_RANGE = dict(unit="stops", minimum=0, maximum=3)


class Detail(Window):
    """Places by their detail, the deviation of lightness about them: texture, or what is smooth.

    It is measured within a hundredth of the long edge, so it is the same in a preview. Noise does
    not count, nor does a single edge.
    """

    above: float | None = parameter(
        None, "From here on, at half weight; absent: from smooth.", **_RANGE
    )
    below: float | None = parameter(
        None, "Up to here, at half weight; absent: to the roughest texture.", **_RANGE
    )
    feather: float = parameter(
        0.1, "Width of the fade about each end.", unit="stops", minimum=0, maximum=2
    )


def mask(parameters: Detail, ground: Ground) -> Mask:
    """The mask of a range of detail."""
    return parameters.mask(lambda light: light[3])


SHAPE = Shape("detail", Detail, mask, ("smooth_light", "window", "detail"), "detail")
