"""A drawn line."""

from grading import kernels
from grading.masks.drawn import Drawn, line, places
from grading.masks.shape import Ground, Mask, Shape
from grading.stages.stage import parameter

_LONG_EDGE = "fraction of the long edge"


class Path(Drawn):
    """A drawn line of some width, from point to point."""

    points: places(2) = parameter(
        ..., "[x, y] of two or more points, in order.", unit="fractions of the frame"
    )
    width: float = parameter(
        ..., "Width of the line, at half weight.", unit=_LONG_EDGE, minimum=0.0005, maximum=1
    )
    smooth: bool = parameter(
        True, "Whether the line is bent through the points; straight otherwise."
    )
    feather: float = parameter(
        0.02,
        "Width of the fade about both of its edges; 0 is a hard edge.",
        unit=_LONG_EDGE,
        minimum=0,
        maximum=0.2,
    )


def mask(parameters: Path, ground: Ground) -> Mask:
    """The mask of a drawn line; its edges are one pixel wide at least."""
    pieces = line(parameters.points, ground, parameters.smooth, closed=False)
    half = parameters.width * ground.long_edge / 2
    fade = max(parameters.feather * ground.long_edge, 1.0)
    return lambda region, light: kernels.outline.outline(*region, pieces, half, fade, False)


SHAPE = Shape("path", Path, mask, ("outline",))
