"""A drawn area."""

from grading import kernels
from grading.masks.drawn import Drawn, line, places
from grading.masks.shape import Ground, Mask, Shape
from grading.stages.stage import parameter


class Polygon(Drawn):
    """A drawn area, from point to point and back to the first; what it goes round twice is out."""

    points: places(3) = parameter(
        ..., "[x, y] of three or more corners, in order.", unit="fractions of the frame"
    )
    smooth: bool = parameter(
        False, "Whether the outline is bent through the points; straight otherwise."
    )
    feather: float = parameter(
        0.02,
        "Width of the fade about the outline, which has half weight; 0 is a hard edge.",
        unit="fraction of the long edge",
        minimum=0,
        maximum=0.2,
    )


def mask(parameters: Polygon, ground: Ground) -> Mask:
    """The mask of a drawn area; its edge is one pixel wide at least."""
    outline = line(parameters.points, ground, parameters.smooth, closed=True)
    fade = max(parameters.feather * ground.long_edge, 1.0)
    return lambda region, light: kernels.outline.outline(*region, outline, 0.0, fade, True)


SHAPE = Shape("polygon", Polygon, mask, ("outline",))
