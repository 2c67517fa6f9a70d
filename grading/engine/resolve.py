"""A recipe resolved for one frame: numbers only."""

from dataclasses import fields

from grading.frame import Frame
from grading.framing import framing
from grading.recipe.load import Recipe
from grading.stages.lens import distortion
from grading.stages.registry import PARTS


class Resolved(Recipe):
    """A recipe whose every value is a number, computed from the whole frame that it is for.

    `resolve` alone makes one. It can be planned for that frame and for smaller versions of it.
    """


def warnings(recipe: Recipe, frame: Frame) -> tuple[str, ...]:
    """Sentences for a person about the frame, and about what the recipe asks of it.

    Parameters
    ----------
    recipe : Recipe
        As it is written, not resolved.
    frame : Frame
    """
    asked = (part.warn(recipe.parts[part.name], frame.facts) for part in PARTS if part.warn)
    return (*frame.facts.warnings, *(sentence for each in asked for sentence in each))


def resolve(recipe: Recipe, frame: Frame) -> Resolved:
    """The recipe with all that depends on the frame stated in numbers.

    Parameters
    ----------
    recipe : Recipe
    frame : Frame
        The original itself, so that the numbers are those of a full-size render.

    Returns
    -------
    Resolved
        The recipe itself if it is resolved already.

    Raises
    ------
    ValueError
        If the frame is a smaller version of an original.
    OriginalError
        If the frame does not give what the recipe asks of it.
    """
    if isinstance(recipe, Resolved):
        return recipe
    if frame.scale != 1:
        raise ValueError("a recipe is resolved on the original, not on a smaller version of it")
    numbers = {
        part.name: part.resolve(recipe.parts[part.name], frame) for part in PARTS if part.resolve
    }
    warp = distortion(numbers["lens"], frame.facts)
    numbers["framing"] = framing.resolve(recipe.parts["framing"], frame, warp)
    values = {each.name: getattr(recipe, each.name) for each in fields(Recipe)}
    return Resolved(**values | {"parts": {**recipe.parts, **numbers}})
