"""The pipeline: every stage in the order in which light passes through it."""

from grading.stages import (
    cdl,
    exposure,
    hues,
    levels,
    lift,
    split_toning,
    tone_curve,
    white_balance,
)

STAGES = (
    white_balance.STAGE,
    exposure.STAGE,
    lift.STAGE,
    levels.STAGE,
    tone_curve.STAGE,
    split_toning.STAGE,
    hues.STAGE,
    cdl.STAGE,
)
"""Stages of the whole frame. Exactly one of them turns scene light into a picture."""

LOCAL_STAGES = (
    white_balance.LOCAL,
    exposure.STAGE,
    lift.STAGE,
    levels.STAGE,
    split_toning.STAGE,
    hues.STAGE,
)
"""Stages that may also be applied through a mask, directly after their whole-frame stage."""
