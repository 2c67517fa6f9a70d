"""A strip of a frame, graded tile below tile by any threads, each in its turn."""

from threading import Condition

import numpy as np

from grading.engine.descent import Descent
from grading.engine.steps import Plan, are_alike, common_start
from grading.region import Region

LITTLE = 8
"""Up to so many pixels of reach, to make rows again takes no longer than to put kept ones before
new ones; in all, of all steps."""


class Strip:
    """Tiles of a strip are graded by several plans, one tile at a time from the top to the bottom.

    Parameters
    ----------
    plans : list of Plan
        Of one frame. What they begin with alike is computed once.
    wanted : Region
        What of the strip is graded: some rows, all columns of the tiles.
    """

    def __init__(self, plans: list[Plan], wanted: Region) -> None:
        groups = [plans] if are_alike(plans) else [[plan] for plan in plans]
        self._groups = [_begun(*common_start(group)) for group in groups]
        self._keeps = any(shared.keeps for shared, _, _ in self._groups)
        self._count, self._wanted, self._next = len(plans), wanted, wanted.top
        self._news, self._error = Condition(), None

    def grade(self, tile: Region, wanted: Region) -> tuple[list[np.ndarray], Region]:
        """Pictures of what is wanted of a tile, in Oklab, by each plan, and which region that is.

        All columns where rows are kept for the tiles below. Waits for the tiles above it. Raises
        what `give_up` was told.
        """
        tile = tile.within(self._wanted)
        if not tile.shape[0]:
            return self._nothing(tile), tile
        region = tile if self._keeps else wanted.within(tile)
        with self._news:
            self._news.wait_for(lambda: self._error or self._next == tile.top)
            if self._error:
                raise self._error
        graded = self._nothing(region) if 0 in region.shape else self._graded(region)
        with self._news:
            self._next = tile.bottom
            self._news.notify_all()
        return graded, region

    def _nothing(self, region):
        return [np.empty((3, *region.shape), np.float32)] * self._count

    def _graded(self, region):
        return [lab for group in self._groups for lab in _graded(*group, region)]

    def give_up(self, error: BaseException) -> None:
        """Let no thread wait any more: a tile will never be graded, for this reason."""
        with self._news:
            self._error = error
            self._news.notify_all()


def _begun(shared, left):
    reach = max(plan.reach for plan in left)
    keeps = shared.reach + reach > LITTLE
    return Descent(shared, reach, keeps), [Descent(plan, 0, keeps) for plan in left], shared.pixels


def _graded(shared, left, original, tile):
    source, begun = shared.source(tile), shared.result(tile)
    pixels = original.read(source) if source.shape[0] else np.empty((3, *source.shape), np.float32)
    pixels = shared.apply(pixels, source, tile)
    return [each.apply(pixels, begun, tile) for each in left]
