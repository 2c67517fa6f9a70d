"""A rectangle of a frame: its rows and columns, and how it is cut out of a larger one."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

import numpy as np


class Region(NamedTuple):
    """Rows `top` to `bottom` and columns `left` to `right` of a frame, the latter not included.

    >>> Region(2, 4, 0, 5).shape
    (2, 5)
    """

    top: int
    bottom: int
    left: int
    right: int

    @classmethod
    def whole(cls, height: int, width: int) -> Region:
        """All of a frame."""
        return cls(0, height, 0, width)

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.bottom - self.top, self.right - self.left

    def grown(self, reach: int, frame: Region) -> Region:
        """The region with `reach` pixels more on each side, as far as the region `frame` goes.

        >>> Region(2, 4, 0, 5).grown(3, Region.whole(6, 20))
        Region(top=0, bottom=6, left=0, right=8)
        """
        return Region(
            max(self.top - reach, frame.top),
            min(self.bottom + reach, frame.bottom),
            max(self.left - reach, frame.left),
            min(self.right + reach, frame.right),
        )

    def within(self, other: Region) -> Region:
        """What it has in common with another; without rows or columns where that is nothing.

        >>> Region(2, 4, 0, 5).within(Region(3, 9, 1, 3))
        Region(top=3, bottom=4, left=1, right=3)
        """
        top, left = max(self.top, other.top), max(self.left, other.left)
        bottom, right = min(self.bottom, other.bottom), min(self.right, other.right)
        return Region(top, max(top, bottom), left, max(left, right))

    def place_in(self, other: Region) -> tuple[int, int]:
        """Row and column of another region at which this one begins.

        >>> Region(2, 4, 5, 9).place_in(Region(1, 9, 3, 9))
        (1, 2)
        """
        return self.top - other.top, self.left - other.left

    def cut(self, planes: np.ndarray, of: Region) -> np.ndarray:
        """Planes (..., rows, columns) of a larger region `of`, cut down to this one.

        C-contiguous; the planes themselves where the regions are the same.
        """
        if self == of:
            return planes
        rows = slice(self.top - of.top, self.bottom - of.top)
        columns = slice(self.left - of.left, self.right - of.left)
        return np.ascontiguousarray(planes[..., rows, columns])

    def tiles(self, rows: int, columns: int) -> Iterator[Region]:
        """Regions of at most so many rows and columns that cover this one, row by row."""
        for top in range(self.top, self.bottom, rows):
            for left in range(self.left, self.right, columns):
                bottom, right = min(top + rows, self.bottom), min(left + columns, self.right)
                yield Region(top, bottom, left, right)


def around_all(regions: Iterable[Region]) -> Region | None:
    """The least region that holds all those that have pixels; None where there are none.

    >>> around_all([Region(0, 1, 4, 5), Region(2, 3, 1, 9), Region(0, 9, 3, 3)])
    Region(top=0, bottom=3, left=1, right=9)
    """
    regions = [region for region in regions if 0 not in region.shape]
    if not regions:
        return None
    tops, bottoms, lefts, rights = zip(*regions, strict=True)
    return Region(min(tops), max(bottoms), min(lefts), max(rights))
