"""Places by how light they are."""

from grading.masks.shape import Ground, Mask, Shape, Window
from grading.stages.stage import parameter

_RANGE = dict(unit="stops from middle grey", minimum=-16, maximum=10)


class Lightness(Window):
    """Places by how light they are, from one number of stops to another."""

    above: float | None = parameter(
        None, "From here on, at half weight; absent: from black.", **_RANGE
    )
    below: float | None = parameter(
        None, "Up to here, at half weight; absent: to the brightest light.", **_RANGE
    )
    feather: float = parameter(
        1.0, "Width of the fade about each end.", unit="stops", minimum=0, maximum=8
    )


def mask(parameters: Lightness, ground: Ground) -> Mask:
    """The mask of a range of luminance."""
    return parameters.mask(lambda light: light[0])


SHAPE = Shape("lightness", Lightness, mask, ("smooth_light", "window"), "light")
