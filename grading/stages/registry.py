"""The pipeline in the order in which light passes through it, and all parts of a recipe."""

from grading.framing import framing
from grading.stages import (
    cdl,
    deblur,
    denoise,
    exposure,
    fringes,
    grain,
    hues,
    lateral_colour,
    lens,
    levels,
    lift,
    local_contrast,
    split_toning,
    spots,
    tone_curve,
    vignette,
    vignetting,
    white_balance,
)

PIPELINE = (
    lateral_colour.STAGE,
    fringes.STAGE,
    white_balance.STAGE,
    denoise.STAGE,
    vignetting.STAGE,
    exposure.STAGE,
    deblur.STAGE,
    local_contrast.STAGE,
    lift.STAGE,
    levels.STAGE,
    tone_curve.STAGE,
    split_toning.STAGE,
    hues.STAGE,
    cdl.STAGE,
    vignette.STAGE,
    grain.STAGE,
)
"""Exactly one of them turns scene light into a picture."""

STAGES = tuple(stage for stage in PIPELINE if stage.part is None)
"""Those that have a recipe key of their own."""

PARTS = (spots.PART, lens.PART, *STAGES, framing.PART)
"""Every part of a recipe, stages and others, in the order in which ``explain`` shows them."""
