"""Steps of a plan, and how they are carried out on a tile.

Masks may read light that a local step before them, or of the same adjustment, would change. So
where the first local step comes, a plan with such masks goes on in two ways: by the steps of the
whole frame as far as that light, which is read, and by all steps.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from grading import kernels
from grading.frame import Pixels
from grading.framing.view import View
from grading.masks import light
from grading.region import Region
from grading.signal import Signal
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
    guide: Any = field(default=None, repr=False, compare=False)
    onward: tuple = field(default=(), repr=False)

    def act(
        self,
        pixels: np.ndarray,
        factor: int,
        here: Region,
        there: Region,
        weight: np.ndarray | None = None,
    ) -> np.ndarray:
        """Pixels after the step.

        Parameters
        ----------
        pixels : ndarray, shape (3, rows, columns), float32
            Of the region `here`.
        factor : int
            By which the guide is smaller.
        here, there : Region
            What there is, and what is wanted of it: all where the stage has no reach.
        weight : ndarray, shape (rows, columns), optional
            Of the mask `there`.

        Returns
        -------
        ndarray, shape (3, rows, columns), float32
        """
        if weight is None:
            return self._apply(pixels, factor, here, there)
        before = there.cut(pixels, here)
        if weight.max() <= 0:
            return before
        pixels = self._apply(pixels, factor, here, there)
        kernels.light.blend(before, pixels, weight)
        return pixels

    def _apply(self, pixels, factor, here, there):
        more = [here, there] if self.stage.reach else [here] if self.stage.placed else []
        if self.guide is not None:
            spread = self.stage.spread or kernels.base.interpolate
            more.append(spread(self.guide, factor, *here))
        return self.stage.apply(pixels, self.constants, *more)


@dataclass(frozen=True)
class Sight:
    """How the light that masks read is made.

    Attributes
    ----------
    start : int
        After how many steps of the plan it parts from them.
    steps : tuple of Step
        Those of the whole frame from there to the light.
    smoothing : grading.masks.light.Smoothing
    detail : ndarray, optional
        The guide of detail, where a mask reads it.
    """

    start: int
    steps: tuple[Step, ...]
    smoothing: light.Smoothing
    detail: np.ndarray | None = None

    @property
    def reach(self) -> int:
        """How many pixels in each direction the light depends on."""
        return sum(step.reach for step in self.steps) + self.smoothing.reach

    def read(self, pixels: np.ndarray, here: Region, region: Region, plan: "Plan") -> np.ndarray:
        """Planes of light of a region (see `grading.masks.light`).

        Parameters
        ----------
        pixels : ndarray, shape (3, rows, columns), float32
            At the start.
        here : Region
            Theirs: `region` and as much around it as the light depends on.
        region : Region
        plan : Plan
        """
        reach = self.reach
        for step in self.steps:
            reach -= step.reach
            there = region.grown(reach, plan.frame)
            pixels, here = step.act(pixels, plan.factor, here, there), there
        planes = region.cut(light.planes_of(pixels, self.smoothing), here)
        if self.detail is None:
            return planes
        guide = kernels.base.interpolate(self.detail, plan.factor, *region)
        return light.with_detail(planes, guide)


@dataclass(frozen=True)
class Plan:
    """Steps in order, for a frame; guides are smaller by `factor`, and `view` is what is shown.

    `pixels` are those of the frame, its spots mended.
    `sight` is how its masks get to see light, None where none reads it.
    """

    steps: tuple[Step, ...]
    frame: Region
    factor: int = 1
    sight: Sight | None = None
    view: View | None = None
    pixels: Pixels | None = field(default=None, repr=False)

    @property
    def reach(self) -> int:
        """How many pixels in each direction a pixel depends on."""
        return sum(step.reach for step in self.steps) + (self.sight.reach if self.sight else 0)

    def first(self, count: int) -> "Plan":
        """A plan of the first steps alone."""
        sees = self.sight and self.sight.start < count
        return replace(self, steps=self.steps[:count], sight=self.sight if sees else None)

    def after(self, count: int) -> "Plan":
        """What remains after the first steps, as many as come before the sight at most."""
        sight = self.sight and replace(self.sight, start=self.sight.start - count)
        return replace(self, steps=self.steps[count:], sight=sight)


def are_alike(plans: Sequence[Plan]) -> bool:
    """Whether plans of a frame begin with the same pixels: the same spots of it are mended."""
    return all(plan.pixels == plans[0].pixels for plan in plans)


def common_start(plans: Sequence[Plan]) -> tuple[Plan, list[Plan]]:
    """The steps with which all plans of a frame begin, and what remains of each.

    They end where one of the plans is to see light, which a later step would have changed.

    Returns
    -------
    Plan
    list of Plan
    """
    shared = 0
    seen_alike = all(plan.view == plans[0].view for plan in plans)  # a signal says what is shown
    if not (are_alike(plans) and seen_alike):
        return plans[0].first(0), list(plans)
    most = min((plan.sight.start for plan in plans if plan.sight), default=None)
    for steps in zip(*(plan.steps[:most] for plan in plans), strict=False):
        if any(step != steps[0] for step in steps):
            break
        shared += 1
    return plans[0].first(shared), [plan.after(shared) for plan in plans]
