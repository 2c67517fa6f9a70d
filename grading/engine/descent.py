"""A plan on its way down a strip of a frame; rows that were computed serve all that need them."""

from functools import cache

import numpy as np

from grading.engine.steps import Plan
from grading.region import Region

ENTRY, SIGHT, SEEN = "entry", "sight", "seen"


class Descent:
    """Regions of a strip taken through a plan, each below the one before it, in the same columns.

    A step that looks about itself needs rows again that it has seen for the region before. These
    are kept, so no step before it makes them again; the bits are those of any region by itself.

    Parameters
    ----------
    plan : Plan
    beyond : int
        How many pixels are wanted around each region.
    keeps : bool
        Whether rows are kept; if not, each region is made by itself.
    """

    def __init__(self, plan: Plan, beyond: int = 0, keeps: bool = True) -> None:
        self._plan, self._beyond, self.keeps = plan, beyond, keeps
        self._before: Region | None = None
        self._kept: dict[int | str, tuple[np.ndarray, Region]] = {}

    def source(self, region: Region) -> Region:
        """The region whose pixels `apply` needs for those of the next one; maybe without rows."""
        return self._new(region, self._plan.reach)

    def result(self, region: Region) -> Region:
        """The region whose pixels `apply` gives for the next one; maybe without rows."""
        return self._new(region, 0)

    def apply(self, pixels: np.ndarray, here: Region, region: Region) -> np.ndarray:
        """Take pixels through all steps.

        Parameters
        ----------
        pixels : ndarray, shape (3, rows, columns), float32
        here : Region
            Theirs: ``source(region)``, or more of each row and rows further down, if those above
            are there as well or came before.
        region : Region

        Returns
        -------
        ndarray, shape (3, rows, columns), float32
            Of ``result(region)``: the picture in Oklab at the end of a whole plan.
        """
        plan, reach = self._plan, self._plan.reach
        pixels, here = self._entered(pixels, here, self._new(region, reach))
        seen = lit = None

        @cache  # steps through one mask share its weights
        def weights(mask, there):
            return mask(there, None if seen is None else there.cut(seen, lit))

        for i, step in enumerate(plan.steps):
            if plan.sight and i == plan.sight.start:
                reach -= plan.sight.reach
                there = self._new(region, reach)
                pixels, here = self._with_those_above(SIGHT, pixels, here, there, plan.sight.reach)
                seen, lit = self._seen(pixels, here, there, region)
                pixels, here = there.cut(pixels, here), there
            reach -= step.reach
            there = self._new(region, reach)
            if step.reach:
                pixels, here = self._with_those_above(i, pixels, here, there, step.reach)
            if there.shape[0]:
                weight = None if step.where is None else weights(step.mask, there)
                pixels = step.act(pixels, plan.factor, here, there, weight)
            else:
                pixels = there.cut(pixels, here)
            here = there
        if self.keeps:
            self._before = region
        return pixels

    def _new(self, region, reach):
        """What of a region and so much around it was not there for the one before."""
        reach, frame = reach + self._beyond, self._plan.frame
        grown = region.grown(reach, frame)
        if self._before is None:
            return grown
        return grown._replace(top=self._before.grown(reach, frame).bottom)

    def _entered(self, pixels, here, needed):
        """What is needed of pixels that may be more; what is further down waits for its time."""
        pixels, here = self._joined(ENTRY, pixels, here)
        if here.bottom > needed.bottom:
            self._keep(ENTRY, pixels, here, needed.bottom)
        return needed.cut(pixels, here), needed

    def _with_those_above(self, place, pixels, here, there, reach):
        """All rows that the new ones depend on; the last of them will be needed again."""
        pixels, here = self._joined(place, pixels, here)
        self._keep(place, pixels, here, max(there.bottom - reach, here.top))
        return pixels, here

    def _seen(self, pixels, here, there, region):
        """The light that masks read, as far up as the steps to come are."""
        plan = self._plan
        light = plan.sight.read(pixels, here, there, plan) if there.shape[0] else None
        seen, lit = self._joined(SEEN, light, there)
        self._keep(SEEN, seen, lit, min(region.bottom, lit.bottom))
        return seen, lit

    def _joined(self, place, pixels, here):
        if place not in self._kept:
            return pixels, here
        kept, above = self._kept.pop(place)
        below = here.bottom > above.bottom
        pixels = np.concatenate([kept, pixels], axis=1) if below else kept
        return pixels, here._replace(top=above.top)

    def _keep(self, place, pixels, here, top):
        if self.keeps:
            rows = here._replace(top=top)
            self._kept[place] = rows.cut(pixels, here), rows


def taken_through(plan: Plan, region: Region) -> np.ndarray:
    """A region of a frame taken through all steps of its plan, in Oklab at the end of a whole one.

    Parameters
    ----------
    plan : Plan
    region : Region

    Returns
    -------
    ndarray, shape (3, rows, columns), float32
    """
    descent = Descent(plan, keeps=False)
    source = descent.source(region)
    return descent.apply(plan.pixels.read(source), source, region)
