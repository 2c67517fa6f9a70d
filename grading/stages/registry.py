"""The pipeline in the order in which light passes through it, and all parts of a recipe."""

from grading.framing import framing
from grading.stages import (
    cdl,
    deblur,
    denoise,
    exposure,
    fringes,
    hues,
    levels,
    lift,
    local_contrast,
    split_toning,
    tone_curve,
    vignette,
    white_balance,
)

STAGES = (
    fringes.STAGE,
    white_balance.STAGE,
    exposure.STAGE,
    denoise.STAGE,
    deblur.STAGE,
    local_contrast.STAGE,
    lift.STAGE,
    levels.STAGE,
    tone_curve.STAGE,
    split_toning.STAGE,
    hues.STAGE,
    cdl.STAGE,
    vignette.STAGE,
)
"""Exactly one of them turns scene light into a picture."""

PARTS = (*STAGES, framing.PART)
"""Every part of a recipe, stages and others, in the order in which ``explain`` shows them."""
