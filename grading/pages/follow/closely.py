"""A followed picture seen closely: pixel for pixel, and where its masks act."""

import numpy as np

from grading.colour import transfer
from grading.colour.profiles import icc_profile
from grading.engine.descent import taken_through
from grading.engine.execute import render_part
from grading.engine.finish import Finish
from grading.engine.output import Output
from grading.engine.steps import Plan
from grading.files.formats.jpeg import encode_jpeg
from grading.masks.where import Where
from grading.pages import pictures
from grading.pages.follow.session import Rendering
from grading.pages.loopback import NotThere
from grading.region import Region

QUALITY = 92


def window(rendering: Rendering, left: int, top: int, width: int, height: int) -> bytes:
    """A part of the picture at the size of the original, as a JPEG file.

    Parameters
    ----------
    rendering : Rendering
    left, top, width, height : int
        In pixels of the picture.

    Raises
    ------
    NotThere
        If that is no part of it.
    """
    plan = rendering.whole_plan
    columns, rows = plan.view.size
    if not (width and height and left + width <= columns and top + height <= rows):
        raise NotThere
    part = Region(top, top + height, left, left + width)
    codes = render_part(plan, part)
    return encode_jpeg(codes, icc_profile("srgb"), None, QUALITY)


def mask(rendering: Rendering, number: int) -> str:
    """Where the adjustment of that number acts, as the data URI of a PNG that is clear elsewhere.

    Raises
    ------
    NotThere
        If there is none.
    """
    adjustments = list(rendering.picture.resolved.local.values())
    if number >= len(adjustments):
        raise NotThere
    plan = rendering.plan
    return pictures.cover(_as_seen(weights_of(plan, adjustments[number].where), plan))


def weights_of(plan: Plan, where: Where) -> np.ndarray:
    """Weights of a mask over a frame, shape (rows, columns), float32; 0 where no step has it.

    Parameters
    ----------
    plan : Plan
        Of the frame.
    where : Where
    """
    step = next((step for step in plan.steps if step.where == where), None)
    whole, light = plan.frame, None
    if step is None:
        return np.zeros(whole.shape, np.float32)
    if plan.sight:
        start = plan.first(plan.sight.start)
        pixels = taken_through(start, whole)
        light = plan.sight.read(pixels, whole, whole, plan)
    return step.mask(whole, light)


def _as_seen(weights, plan):
    """Weights in the picture that the plan shows, 0..1."""
    output = Output("tiff", sharpen=0)
    whole = plan.frame
    finish = Finish(output, plan.view, whole.bottom)
    lab = np.zeros((3, *whole.shape), np.float32)
    lab[0] = np.cbrt(weights)  # of which the light is the weight
    finish.add(lab, whole, whole)
    finish.complete(1)
    return transfer.decode(output.curve, finish.codes[..., 1] / 65535)
