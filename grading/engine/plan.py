"""A plan: a resolved recipe for one frame, so that each tile can be computed by itself.

All that needs the whole frame (the base of a lift, a mask that is grown) is computed here, as
numbers or as a small guide image. After that a step depends on a pixel's own place, and on its
surroundings as far as the stage's reach.
"""

from dataclasses import replace

import numpy as np

from grading.engine.resolve import Resolved
from grading.engine.steps import Plan, Sight, Step
from grading.frame import Frame
from grading.framing.framing import view_of
from grading.framing.view import View
from grading.masks import light
from grading.masks.shape import Ground
from grading.masks.where import prepare_mask, shapes_in
from grading.region import Region
from grading.signal import Signal
from grading.stages.lens import distortion
from grading.stages.registry import PIPELINE
from grading.stages.spots import without_spots


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
    frame = without_spots(frame, resolved.parts["spots"])
    view = view_for(resolved, frame)
    steps, to_light, signal = _steps(resolved, frame, view)
    ground = Ground(frame.facts.width, frame.facts.height, Signal.of(frame).guide_factor)
    sight = None
    if reads := _reads(steps):
        sight, small = _sight(frame, ground, to_light, signal, "detail" in reads)
        ground = replace(ground, light=small)
    steps = _with_guides(_with_masks(steps, ground), frame, ground)
    if sight:
        sight = _from_where_they_part(sight, steps)
    parted = sight.start if sight else 0
    shared = _without_mixing(steps[:parted])
    sight = sight and replace(sight, start=len(shared))
    steps = shared + _without_mixing(steps[parted:])
    return Plan(steps, frame.region, ground.factor, sight, view, frame.pixels)


def _without_mixing(steps):
    """Steps less those that only mix light, where the one before can do that as well."""
    done = []
    for step in steps:
        both = _with_mixing(done[-1], step) if done else None
        if both is None:
            done.append(step)
        else:
            done[-1] = both
    return tuple(done)


def _with_mixing(step, after):
    """A step that does what one of the whole frame after it does, too; None where it cannot."""
    if step.stage.mixed is None or after.stage.affine is None or after.where is not None:
        return None
    matrix = after.stage.affine(after.constants)
    if matrix[:, 3].any():
        return None
    constants = step.stage.mixed(step.constants, matrix[:, :3].astype(np.float32))
    if constants is None:
        return None
    return replace(step, parameters=(step.parameters, after.parameters), constants=constants)


def _from_where_they_part(sight, steps):
    """The sight from the first step that it has not: one through a mask, or that looks ahead."""
    apart = (i for i, step in enumerate(steps) if step.where is not None or step.onward)
    start = min(next(apart), len(sight.steps))
    return replace(sight, start=start, steps=sight.steps[start:])


def view_for(resolved: Resolved, frame: Frame) -> View:
    """What a resolved recipe shows of a frame."""
    warp = distortion(resolved.parts["lens"], frame.facts)
    return view_of(resolved.parts["framing"], frame.facts.width, frame.facts.height, warp)


def _steps(resolved, frame, view):
    """Steps in order, those of the whole frame to the light that masks read, and its signal."""
    signal, steps = replace(Signal.of(frame), corners=view.corners), []
    for stage in PIPELINE:
        step = _step(stage, resolved.parts[stage.part or stage.name], signal)
        steps += [step] if step else []
        signal = _signal_after(stage, step, signal)
        for adjustment in resolved.local.values() if stage.local else ():
            step = _step(stage.through_mask, adjustment.stages[stage.name], signal)
            steps += [replace(step, where=adjustment.where)] if step else []
        if stage.name == light.AFTER:
            to_light = tuple(step for step in steps if step.where is None), signal
    _require_state(signal, ("picture",), "the end of a plan")
    return tuple(steps), *to_light


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
    gives = stage.gives or signal.state
    if step is None:
        after = f"what follows {stage.name}, which has nothing to do,"
        _require_state(signal, (gives,), after)
        return signal
    return replace(stage.amplify(signal, step.constants), state=gives)


def _require_state(signal, states, who):
    if signal.state not in states:
        raise ValueError(f"{who} takes {' or '.join(states)} pixels, not {signal.state} pixels")


def _reads(steps):
    """What the masks of steps read of light: ``light``, ``detail``."""
    masks = (step.where for step in steps if step.where is not None)
    return {shape.reads for where in masks for shape in shapes_in(where)} - {None}


def _sight(frame, ground, steps, signal, with_detail):
    """How light is made by steps from the first on, and the light of the reduced frame."""
    steps, pixels = _through(steps, frame.reduced(ground.factor), ground)
    how = light.smoothing(signal.reduced(ground.factor))
    small, detail = light.planes_of(pixels, how), None
    if with_detail:
        detail = light.detail_guide(pixels, how)
        small = light.with_detail(small, detail)
    return Sight(0, steps, light.smoothing(signal), detail), small


def _with_masks(steps, ground):
    """Steps with their masks, a single one for all that act in the same place."""
    masks, done = [], []
    for step in steps:
        if step.where is not None:
            known = (mask for where, mask in masks if where == step.where)
            mask = next(known, None) or prepare_mask(step.where, ground)
            masks.append((step.where, mask))
            step = replace(step, mask=mask)
        done.append(step)
    return done


def _with_guides(steps, frame, ground):
    """Steps with their guides; the reduced frame is taken as far as the last of them."""
    last = max((i for i, step in enumerate(steps) if step.stage.guide), default=None)
    if last is None:
        return tuple(steps)
    done, left, asking = list(steps), frame.reduced(ground.factor), []
    for i, step in enumerate(steps[: last + 1]):
        done[i] = _guided(step, left)
        if i < last or step.stage.ahead:
            left = _on_reduced(done[i], left, ground)
        if step.stage.ahead:
            asking.append((i, left))
    for i, reduced in asking:
        done[i] = _looking_ahead(done[i], reduced, tuple(done[i + 1 :]), ground)
    return tuple(done)


def _looking_ahead(step, reduced, rest, ground):
    """A step whose guide depends on the steps to come; itself where it does not ask."""

    def onward(pixels):
        for each in rest:
            pixels = _on_reduced(each, pixels, ground)
        return pixels

    planes = step.stage.ahead(step.guide, reduced, step.constants, onward)
    return step if planes is step.guide else replace(step, guide=planes, onward=rest)


def _through(steps, reduced, ground):
    """Take a reduced frame through steps: the steps with their guides, and what becomes of it."""
    done = []
    for step in steps:
        done.append(_guided(step, reduced))
        reduced = _on_reduced(done[-1], reduced, ground)
    return tuple(done), reduced


def _guided(step, reduced):
    guide = step.stage.guide
    return replace(step, guide=guide(reduced, step.constants)) if guide else step


def _on_reduced(step, pixels, ground):
    """What a step makes of means of factor x factor pixels."""
    constants = step.stage.prepare(step.parameters, step.signal.reduced(ground.factor))
    if constants is None:
        return pixels
    whole, weight = Region.whole(*pixels.shape[1:]), None
    if step.where is not None:
        weight = prepare_mask(step.where, ground.reduced)(whole, ground.light)
    return replace(step, constants=constants).act(pixels, 1, whole, whole, weight)
