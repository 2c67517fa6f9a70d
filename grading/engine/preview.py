"""A frame at reduced size, which is graded like any other."""

from dataclasses import replace

from grading.frame import Frame
from grading.pixels import StoredPixels


def preview(frame: Frame, long_edge: int) -> Frame:
    """A frame made smaller by block means of its linear light, held in memory.

    The light is averaged before it is graded, as a smaller sensor would have done, so a preview
    costs what its own size costs. It is graded by recipes that `grading.engine.resolve.resolve` has
    settled on the frame itself.

    Parameters
    ----------
    frame : Frame
    long_edge : int
        Pixels at most; the factor is the least power of two that keeps to it.

    Returns
    -------
    Frame
        With the facts of the original, except its width, height and scale.
    """
    facts = frame.facts
    factor = frame.factor_to(long_edge)
    planes = frame.reduced(factor)
    _, height, width = planes.shape
    pixels = StoredPixels(planes.transpose(1, 2, 0), lambda light: light)
    facts = replace(facts, width=width, height=height)
    return Frame(facts, pixels, frame.exif, frame.scale * factor)
