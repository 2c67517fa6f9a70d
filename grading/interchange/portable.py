"""The part of a look that open formats can carry: what depends on a pixel's own colour only."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from grading.colour import oklab
from grading.stages import cdl, white_balance
from grading.stages.registry import PARTS, STAGES
from grading.stages.tone_curve import ToneCurve

if TYPE_CHECKING:
    from grading.recipe.load import Recipe

_STAGES = {stage.name: stage for stage in STAGES}


@dataclass(frozen=True)
class PortableLook:
    """The part of a look that acts on single colours, from white-balanced light to a picture.

    Attributes
    ----------
    light : ndarray, shape (3, 4), float64
        Shift of white, exposure and levels: a matrix on linear BT.2020 and an offset.
    steps : tuple of (Stage, constants)
        Tone curve and picture stages, except the CDL.
    is_plain : bool
        Whether the steps lead to Oklab and change nothing.
    decision : Cdl or None
        The colour decision at the end, None for the identity.
    """

    light: np.ndarray
    steps: tuple[tuple[Any, Any], ...] = field(repr=False)
    is_plain: bool
    decision: Any

    def apply(self, lab: np.ndarray) -> np.ndarray:
        """Oklab of the picture for Oklab of the scene's light, after the matrix `light`.

        Parameters
        ----------
        lab : ndarray, shape (n, 3), float64

        Returns
        -------
        ndarray, shape (n, 3), float64
        """
        rgb = oklab.oklab_to_working(lab)
        pixels = np.ascontiguousarray(rgb.T[:, None, :], dtype=np.float32)
        for stage, constants in self.steps:
            pixels = stage.apply(pixels, constants)
        return pixels[:, 0].T.astype(np.float64)


def portable_look(recipe: Recipe) -> PortableLook:
    """The `PortableLook` of a recipe.

    Parameters
    ----------
    recipe : Recipe
    """
    prepared = [(stage, _constants(recipe, stage)) for stage in STAGES if stage.is_pointwise]
    carried = [(stage, constants) for stage, constants in prepared if constants is not None]
    steps = tuple(each for each in carried if not each[0].affine and each[0] is not cdl.STAGE)
    return PortableLook(
        light=_light([each for each in carried if each[0].affine]),
        steps=steps,
        is_plain=len(steps) == 1 and recipe.stages["tone_curve"] == ToneCurve(),
        decision=recipe.stages["cdl"] if cdl.STAGE in dict(carried) else None,
    )


def _constants(recipe, stage):
    """Constants of a stage in the working light, where white balance is no more than its shift."""
    parameters = recipe.stages[stage.name]
    if stage is white_balance.STAGE:
        stage = white_balance.LOCAL
        parameters = stage.parameters(shift=parameters.shift)
    return stage.prepare(parameters, None)


def _light(affine):
    """Stages of scene light as one matrix with an offset in its last column."""
    light = np.eye(3, 4)
    for stage, constants in affine:
        after = stage.affine(constants)
        light = after[:, :3] @ light
        light[:, 3] += after[:, 3]
    return light


def left_out(recipe: Recipe) -> list[str]:
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
        if not _STAGES[name].is_pointwise and parameters != _STAGES[name].parameters():
            of = "place in the frame" if _STAGES[name].placed else "surroundings of a pixel"
            sentences.append(f"{name}: it depends on the {of}.")
    for part in PARTS:
        if part not in STAGES and recipe.parts[part.name] != part.parameters():
            sentences.append(f"{part.name}: it is about the frame, not about single colours.")
    for name in recipe.local:
        sentences.append(f"local.{name}: it depends on the place in the frame.")
    return sentences
