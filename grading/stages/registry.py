"""The pipeline: every stage in the order in which light passes through it."""

from grading.stages import (
    cdl,
    deblur,
    denoise,
    exposure,
    fringes,
    hues,
    levels,
    lift,
    split_toning,
    tone_curve,
    white_balance,
)

STAGES = (
    fringes.STAGE,
    white_balance.STAGE,
    exposure.STAGE,
    denoise.STAGE,
    deblur.STAGE,
    lift.STAGE,
    levels.STAGE,
    tone_curve.STAGE,
    split_toning.STAGE,
    hues.STAGE,
    cdl.STAGE,
)
"""Exactly one of them turns scene light into a picture."""
