"""A plan: a recipe made definite for one frame, so that tiles can be computed apart.

Whatever needs the whole frame (a sampled neutral, the base of a lift) is settled here, as numbers
or as a small guide image. After that each step depends on a pixel's own place only.
"""

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from grading import kernels
from grading.stages.registry import LOCAL_STAGES, STAGES
from grading.stages.stage import Stage

GUIDE_EDGE = 1024
"""The long edge of a guide is at most so many pixels."""


@dataclass(frozen=True)
class Step:
    """A stage with its parameters and what was made of them; `where` is the mask of a local one.

    Steps that compare equal do the same, given that the steps before them are equal too.
    """

    stage: Stage
    parameters: Any
    where: Any
    constants: Any = field(repr=False, compare=False)
    guide: np.ndarray | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True)
class Plan:
    """Steps in order, for a frame of width x height; guides are smaller by `factor`."""

    steps: tuple[Step, ...]
    width: int
    height: int
    factor: int = 1

    def apply(self, pixels, y0, y1, x0, x1):
        """Take the pixels of rows y0:y1 and columns x0:x1 through all steps.

        Parameters
        ----------
        pixels : ndarray, shape (3, y1 - y0, x1 - x0), float32
            As `grading.frame.Pixels` gives them.

        Returns
        -------
        ndarray, shape (3, y1 - y0, x1 - x0), float32
            The picture in Oklab.
        """
        tile, weights = (y0, y1, x0, x1), {}
        for step in self.steps:
            if step.where is None:
                pixels = _apply_step(step, pixels, self, tile)
                continue
            if id(step.where) not in weights:
                weights[id(step.where)] = step.where.weights(self.width, self.height, *tile)
            weight = weights[id(step.where)]
            if weight.max() > 0:
                before, pixels = pixels, _apply_step(step, pixels, self, tile)
                kernels.blend(before, pixels, weight)
        return pixels


def _apply_step(step, pixels, plan, tile):
    if step.guide is None:
        return step.stage.apply(pixels, step.constants)
    planes = kernels.interpolate(step.guide, plan.factor, *tile)
    return step.stage.apply(pixels, step.constants, planes)


def resolve(recipe, frame):
    """The recipe with all that depends on the frame stated in numbers."""
    settled = {
        stage.name: stage.resolve(recipe.stages[stage.name], frame)
        for stage in STAGES
        if stage.resolve
    }
    return replace(recipe, stages={**recipe.stages, **settled})


def make_plan(recipe, frame):
    """The plan of a resolved recipe for a frame.

    Parameters
    ----------
    recipe : Recipe
        From `resolve`.
    frame : Frame

    Returns
    -------
    Plan
    """
    facts = frame.facts
    steps = tuple(_steps(recipe, facts))
    if not any(step.stage.guide for step in steps):
        return Plan(steps, facts.width, facts.height)
    factor = 1
    while max(facts.width, facts.height) / factor > GUIDE_EDGE:
        factor *= 2
    guided = _with_guides(steps, frame.pixels.reduced(factor))
    return Plan(guided, facts.width, facts.height, factor)


def _steps(recipe, facts):
    local = {stage.name: stage for stage in LOCAL_STAGES}
    for stage in STAGES:
        yield from _step(stage, recipe.stages[stage.name], facts, None)
        for adjustment in recipe.local.values():
            if stage.name in adjustment.stages:
                parameters = adjustment.stages[stage.name]
                yield from _step(local[stage.name], parameters, facts, adjustment.where)


def _step(stage, parameters, facts, where):
    constants = stage.prepare(parameters, facts)
    if constants is not None:
        yield Step(stage, parameters, where, constants)


def part(plans):
    """The steps with which all plans of a frame begin, and what is left of each.

    Returns
    -------
    Plan
    list of Plan
    """
    shared = 0
    for steps in zip(*(plan.steps for plan in plans), strict=False):
        if any(step != steps[0] for step in steps):
            break
        shared += 1
    left = [replace(plan, steps=plan.steps[shared:]) for plan in plans]
    return replace(plans[0], steps=plans[0].steps[:shared]), left


def _with_guides(steps, reduced):
    """Take a reduced frame through the steps and note each guide on the way."""
    height, width = reduced.shape[1:]
    last = max(i for i, step in enumerate(steps) if step.stage.guide)
    done = []
    for i, step in enumerate(steps):
        if step.stage.guide:
            step = replace(step, guide=step.stage.guide(reduced))
        done.append(step)
        if i < last:
            small = Plan((step,), width, height)
            reduced = small.apply(reduced, 0, height, 0, width)
    return tuple(done)
