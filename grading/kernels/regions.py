"""Regions within a tile: first row, row after the last, first column and column after the last."""

from grading.kernels.primitives import inner


@inner
def grown(region, by, tile, begin):
    """A region with so many pixels more on each side, in whole blocks of 2x2 of the frame.

    Parameters
    ----------
    region, tile : tuple of int
        The tile has all that there is.
    by : int
    begin : tuple of int
        Row and column of the frame where the tile begins.
    """
    top, left = begin
    first, last, low, high = region[0] - by, region[1] + by, region[2] - by, region[3] + by
    return (
        max(first - (top + first) % 2, tile[0]), min(last + (top + last) % 2, tile[1]),
        max(low - (left + low) % 2, tile[2]), min(high + (left + high) % 2, tile[3]),
    )  # fmt: skip


@inner
def rimmed(region, tile):
    """A region with one pixel more on each side, where the tile has one."""
    return (
        max(region[0] - 1, tile[0]), min(region[1] + 1, tile[1]),
        max(region[2] - 1, tile[2]), min(region[3] + 1, tile[3]),
    )  # fmt: skip


@inner
def moved(region, by):
    """A region as it lies in a plane with so many more pixels before it."""
    return region[0] + by, region[1] + by, region[2] + by, region[3] + by


@inner
def halved(region, begin, first):
    """Blocks of 2x2 of the frame that a region has part in, counted from row and column `first`."""
    return (
        (begin[0] + region[0]) // 2 - first[0], (begin[0] + region[1] + 1) // 2 - first[0],
        (begin[1] + region[2]) // 2 - first[1], (begin[1] + region[3] + 1) // 2 - first[1],
    )  # fmt: skip
