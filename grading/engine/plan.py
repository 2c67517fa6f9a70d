"""A plan: a resolved recipe for one frame, so that each tile can be computed by itself.

All that needs the whole frame (the base of a lift) is computed here, as numbers or as a small guide
image. After that a step depends on a pixel's own place, and on its surroundings as far as the
stage's reach.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any

import numpy as np

from grading import kernels
from grading.engine.resolve import Resolved
from grading.frame import Frame
from grading.masks.where import prepare_mask
from grading.region import Region
from grading.signal import Signal
from grading.stages.registry import STAGES
from grading.stages.stage import Stage


@dataclass(frozen=True)
class Step:
    """A stage with its parameters and their constants; `where` is the mask of a local one.

    Steps that compare equal do the same, given that the steps before them are equal too. `onward`
    are the steps to come, where what this one does depends on them.
    """

    stage: Stage
    parameters: Any
    where: Any
    constants: Any = field(repr=False, compare=False)
    reach: int = 0
    signal: Signal | None = field(default=None, repr=False, compare=False)
    mask: Callable | None = field(default=None, repr=False, compare=False)
    guide: np.ndarray | None = field(default=None, repr=False, compare=False)
    onward: tuple = field(default=(), repr=False)


@dataclass(frozen=True)
class Plan:
    """Steps in order, for a frame; guides are smaller by `factor`."""

    steps: tuple[Step, ...]
    frame: Region
    factor: int = 1

    @property
    def reach(self) -> int:
        """How many pixels in each direction a pixel depends on."""
        return sum(step.reach for step in self.steps)

    def source(self, region: Region) -> Region:
        """The region whose pixels `apply` needs for those of another."""
        return region.grown(self.reach, self.frame)

    def apply(self, pixels: np.ndarray, region: Region) -> np.ndarray:
        """Take pixels through all steps.

        Parameters
        ----------
        pixels : ndarray, shape (3, rows, columns), float32
            Of ``source(region)``, as `grading.frame.Pixels` gives them.
        region : Region
            What is wanted.

        Returns
        -------
        ndarray, shape (3, rows, columns), float32
            The picture in Oklab.
        """
        here, reach = self.source(region), self.reach
        weights = cache(lambda mask, there: mask(there))  # steps through one mask share them
        for step in self.steps:
            reach -= step.reach
            there = region.grown(reach, self.frame) if step.reach else here
            if step.where is None:
                pixels = there.cut(_apply_step(step, pixels, self, here), here)
            else:
                weight = weights(step.mask, there)
                before = there.cut(pixels, here)
                if weight.max() > 0:
                    pixels = there.cut(_apply_step(step, pixels, self, here), here)
                    kernels.light.blend(before, pixels, weight)
                else:
                    pixels = before
            here = there
        return pixels


def _apply_step(step, pixels, plan, region):
    more = []
    if step.guide is not None:
        more.append(kernels.base.interpolate(step.guide, plan.factor, *region))
    if step.stage.placed:
        more.append(region)
    return step.stage.apply(pixels, step.constants, *more)


def make_plan(resolved: Resolved, frame: Frame) -> Plan:
    """The plan of a resolved recipe for a frame.

    Parameters
    ----------
    resolved : Resolved
        From `grading.engine.resolve.resolve`.
    frame : Frame
        The one it was resolved for, or a smaller version of it.

    Returns
    -------
    Plan

    Raises
    ------
    ValueError
        If a stage would be given pixels in another state than it takes.
    """
    steps = _steps(resolved, frame)
    if not any(step.stage.guide for step in steps):
        return Plan(steps, frame.region)
    factor = Signal.of(frame).guide_factor
    return Plan(_with_guides(steps, frame.reduced(factor), factor), frame.region, factor)


def _steps(resolved, frame):
    """Steps in order, with the signal followed from one to the next."""
    signal, steps = Signal.of(frame), []
    height, width = frame.region.shape
    masks = {
        name: prepare_mask(adjustment.where, width, height)
        for name, adjustment in resolved.local.items()
    }
    for stage in STAGES:
        step = _step(stage, resolved.stages[stage.name], signal)
        steps += [step] if step else []
        signal = _signal_after(stage, step, signal)
        for name, adjustment in resolved.local.items() if stage.local else ():
            step = _step(stage.through_mask, adjustment.stages[stage.name], signal)
            steps += [replace(step, where=adjustment.where, mask=masks[name])] if step else []
    _require_state(signal, ("picture",), "the end of a plan")
    return tuple(steps)


def _step(stage, parameters, signal):
    """The step of a stage, None where it would change nothing."""
    constants = stage.prepare(parameters, signal)
    if constants is None:
        return None
    _require_state(signal, stage.takes, stage.name)
    reach = stage.reach(constants) if stage.reach else 0
    return Step(stage, parameters, None, constants, reach, signal)


def _signal_after(stage, step, signal):
    """What the pixels are after a stage of the whole frame."""
    if step is None:
        after = f"what follows {stage.name}, which has nothing to do,"
        _require_state(signal, (stage.gives,), after)
        return signal
    return replace(stage.amplify(signal, step.constants), state=stage.gives)


def _require_state(signal, states, who):
    if signal.state not in states:
        raise ValueError(f"{who} takes {' or '.join(states)} pixels, not {signal.state} pixels")


def common_start(plans: Sequence[Plan]) -> tuple[Plan, list[Plan]]:
    """The steps with which all plans of a frame begin, and what remains of each.

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
    rest = [replace(plan, steps=plan.steps[shared:]) for plan in plans]
    return replace(plans[0], steps=plans[0].steps[:shared]), rest


def _with_guides(steps, reduced, factor):
    """Take a reduced frame through the steps and note each guide on the way."""
    whole = Region.whole(*reduced.shape[1:])
    last = max(i for i, step in enumerate(steps) if step.stage.guide)
    done, asking = [], []
    for i, step in enumerate(steps):
        if step.stage.guide:
            step = replace(step, guide=step.stage.guide(reduced, step.constants))
        done.append(step)
        small = _reduced_step(step, factor, whole) if i < last or step.stage.ahead else None
        if small:
            reduced = Plan((small,), whole).apply(reduced, whole)
        if step.stage.ahead:
            asking.append((i, reduced))
    for i, light in asking:
        done[i] = _looking_ahead(done[i], light, tuple(done[i + 1 :]), factor, whole)
    return tuple(done)


def _looking_ahead(step, light, rest, factor, whole):
    """A step whose guide depends on the steps to come; itself where it does not ask."""

    def onward(pixels):
        small = (_reduced_step(each, factor, whole) for each in rest)
        return Plan(tuple(filter(None, small)), whole).apply(pixels, whole)

    planes = step.stage.ahead(step.guide, light, step.constants, onward)
    return step if planes is step.guide else replace(step, guide=planes, onward=rest)


def _reduced_step(step, factor, whole):
    """A step for means of factor x factor pixels; None where it would change nothing."""
    constants = step.stage.prepare(step.parameters, step.signal.reduced(factor))
    if constants is None:
        return None
    mask = step.where and prepare_mask(step.where, *whole.shape[::-1])
    return replace(step, constants=constants, reach=0, mask=mask)
