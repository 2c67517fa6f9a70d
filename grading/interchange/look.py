"""The part of a look that open formats can carry: what depends on a pixel's own colour only."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from grading.colour import oklab
from grading.stages.registry import LOCAL_STAGES, STAGES
from grading.stages.tone_curve import ToneCurve

_STAGES = {stage.name: stage for stage in STAGES}
_SHIFT = next(stage for stage in LOCAL_STAGES if stage.name == "white_balance")

PICTURE = ("split_toning", "hues")
"""Picture stages that are carried, in their order."""

CARRIED = ("white_balance", "exposure", "levels", "tone_curve", *PICTURE, "cdl")


@dataclass(frozen=True)
class Look:
    """A look from the working light, white-balanced, to a picture.

    Attributes
    ----------
    light : ndarray, shape (3, 4), float64
        Shift of white, exposure and levels: a matrix on linear BT.2020 and an offset.
    steps : tuple of (Stage, constants)
        Tone curve and picture stages, but for the CDL.
    is_plain : bool
        Whether the steps lead to Oklab and change nothing.
    decision : Cdl or None
        The colour decision at the end, None for the identity.
    """

    light: np.ndarray
    steps: tuple[tuple[Any, Any], ...] = field(repr=False)
    is_plain: bool
    decision: Any


def look_of(recipe):
    """The `Look` of a recipe.

    Parameters
    ----------
    recipe : Recipe
    """
    tone = recipe.stages["tone_curve"]
    steps = [("tone_curve", _constants(recipe, "tone_curve"))]
    steps += [(name, _constants(recipe, name)) for name in PICTURE]
    kept = tuple((_STAGES[name], value) for name, value in steps if value is not None)
    decided = _constants(recipe, "cdl") is not None
    return Look(
        light=_light(recipe),
        steps=kept,
        is_plain=len(kept) == 1 and tone == ToneCurve(),
        decision=recipe.stages["cdl"] if decided else None,
    )


def _constants(recipe, name):
    return _STAGES[name].prepare(recipe.stages[name], None)


def _light(recipe):
    """Shift, exposure and levels as one matrix with an offset in its last column."""
    shift = _SHIFT.parameters(shift=recipe.stages["white_balance"].shift)
    matrix = _SHIFT.prepare(shift, None)
    light = np.hstack([np.eye(3) if matrix is None else matrix, np.zeros((3, 1))])
    gain = _constants(recipe, "exposure")
    light *= 1.0 if gain is None else float(gain)
    levels = _constants(recipe, "levels")
    if levels is not None:
        light *= float(levels.gain)
        light[:, 3] += float(levels.offset)
    return light


def picture(look, lab):
    """Oklab of the picture for Oklab of the scene's light, after the part in `Look.light`.

    Parameters
    ----------
    look : Look
    lab : ndarray, shape (n, 3), float64

    Returns
    -------
    ndarray, shape (n, 3), float64
    """
    rgb = oklab.oklab_to_working(lab)
    pixels = np.ascontiguousarray(rgb.T[:, None, :], dtype=np.float32)
    for stage, constants in look.steps:
        pixels = stage.apply(pixels, constants)
    return pixels[:, 0].T.astype(np.float64)


def left_out(recipe):
    """Sentences on what no format of single colours can carry.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    list of str
    """
    shift = recipe.stages["white_balance"].shift
    shifted = f", but the shift of {shift:+g} mired is carried, as seen from D65" if shift else ""
    sentences = [
        "white_balance: the light of a frame depends on the frame and its camera; the light that "
        f"goes in must be white-balanced already{shifted}."
    ]
    for name, parameters in recipe.stages.items():
        if name not in CARRIED and parameters != _STAGES[name].parameters():
            sentences.append(f"{name}: it depends on the surroundings of a pixel.")
    for name in recipe.local:
        sentences.append(f"local.{name}: it depends on the place in the frame.")
    return sentences
