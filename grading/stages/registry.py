"""The pipeline: every stage in the order in which light passes through it."""

from grading.stages import (
    cdl,
    denoise,
    exposure,
    grain,
    hues,
    levels,
    lift,
    split_toning,
    tone_curve,
    white_balance,
)

STAGES = (
    white_balance.STAGE,
    denoise.STAGE,
    exposure.STAGE,
    lift.STAGE,
    levels.STAGE,
    tone_curve.STAGE,
    split_toning.STAGE,
    hues.STAGE,
    cdl.STAGE,
    grain.STAGE,
)
"""Exactly one of them turns scene light into a picture."""
