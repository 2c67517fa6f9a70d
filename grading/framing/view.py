"""The map between a picture and its frame: crop, turn, keystone and the lens's distortion in one.

From the frame to the picture a place first loses the lens's distortion, then the keystone, is
turned about the middle of the frame, and last the crop is cut out. The middle of the frame keeps
its place and its scale.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from grading.lens.optics import Warp
from grading.region import Region

Box = tuple[float, float, float, float]

WHOLE: Box = (0.0, 0.0, 1.0, 1.0)
"""Left, top, right and bottom, in fractions of the frame as it was before it was turned."""

NEARLY = 1e-6
"""Of a pixel: what rounding may leave."""


@dataclass(frozen=True)
class View:
    """What of a frame is seen, and how.

    Attributes
    ----------
    width, height : int
        Of the frame, in pixels.
    straighten : float
        Degrees by which the picture is turned anticlockwise.
    keystone : (float, float)
        Horizontal and vertical, see `grading.framing.framing`.
    box : tuple of four float
        Left, top, right and bottom of the crop in the turned picture.
    warp : Warp or None
        The lens's distortion.
    fill : float or None
        Light, 0 or 1, that empty corners are filled with.

    Examples
    --------
    >>> view = View(600, 400, straighten=90 / math.pi, box=(0.25, 0.25, 0.75, 0.75))
    >>> view.size, [round(each, 4) for each in view.to_frame(0.5, 0.5)]
    ((300, 200), [0.5, 0.5])
    """

    width: int
    height: int
    straighten: float = 0.0
    keystone: tuple[float, float] = (0.0, 0.0)
    box: Box = WHOLE
    warp: Warp | None = None
    fill: float | None = None

    @property
    def is_upright(self) -> bool:
        """Whether each pixel of the picture is one of the frame: nothing but a crop."""
        return self.straighten == 0 and self.keystone == (0, 0) and self.warp is None

    @cached_property
    def crop(self) -> Region:
        """The box in whole pixels, none of them cut."""
        left, top, right, bottom = self.box
        columns = _whole_pixels(left * self.width, right * self.width)
        return Region(*_whole_pixels(top * self.height, bottom * self.height), *columns)

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the picture at the scale of the frame."""
        rows, columns = self.crop.shape
        return columns, rows

    @cached_property
    def matrix(self) -> np.ndarray:
        """From places of the picture to those of the frame without distortion, shape (3, 3).

        Homogeneous, both in pixels from the top left.
        """
        angle = math.radians(self.straighten)
        cos, sin = math.cos(angle), math.sin(angle)
        across, down = self.keystone
        turned_back = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]])
        leaning = np.eye(3)
        leaning[2, :2] = 2 * across / self.width, -2 * down / self.height
        to_middle = _shift(self.crop.left - self.width / 2, self.crop.top - self.height / 2)
        return _shift(self.width / 2, self.height / 2) @ leaning @ turned_back @ to_middle

    def pixels_to_frame(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places of the frame for places of the picture, both in pixels from the top left."""
        x, y = _projected(self.matrix, x, y)
        return (x, y) if self.warp is None else self.warp.to_frame(x, y, self.width, self.height)

    def pixels_to_picture(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Places of the picture for places of the frame, both in pixels from the top left."""
        if self.warp is not None:
            x, y = self.warp.from_frame(x, y, self.width, self.height)
        return _projected(np.linalg.inv(self.matrix), x, y)

    def to_frame(self, x: float, y: float) -> tuple[float, float]:
        """A place of the frame for one of the picture, both in fractions of width and height."""
        columns, rows = self.size
        x, y = self.pixels_to_frame(x * columns, y * rows)
        return float(x) / self.width, float(y) / self.height

    def to_picture(self, x: float, y: float) -> tuple[float, float]:
        """A place of the picture for one of the frame, both in fractions of width and height."""
        columns, rows = self.size
        x, y = self.pixels_to_picture(x * self.width, y * self.height)
        return float(x) / columns, float(y) / rows

    def part(self, region: Region) -> View:
        """What shows a part of the picture, which is a region of its pixels."""
        top, left = self.crop.top, self.crop.left
        box = (
            (left + region.left) / self.width, (top + region.top) / self.height,
            (left + region.right) / self.width, (top + region.bottom) / self.height,
        )  # fmt: skip
        return replace(self, box=box)

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Where the picture's corners lie in the frame, in fractions, clockwise from top left."""
        return tuple(self.to_frame(*corner) for corner in ((0, 0), (1, 0), (1, 1), (0, 1)))

    def needed(self, margin: int) -> Region:
        """The region of the frame that the picture shows, with a margin about it."""
        if self.is_upright:
            return self.crop
        columns, rows = self.size
        along, across = np.linspace(0, columns, 65), np.linspace(0, rows, 65)
        x = np.concatenate([along, along, 0 * across, 0 * across + columns])
        y = np.concatenate([0 * along, 0 * along + rows, across, across])
        x, y = self.pixels_to_frame(x, y)
        low, high = np.floor([y.min(), x.min()]) - margin, np.ceil([y.max(), x.max()]) + margin
        low = np.clip(low, 0, [self.height - 1, self.width - 1]).astype(int)
        high = np.clip(high, low + 1, [self.height, self.width]).astype(int)
        return Region(int(low[0]), int(high[0]), int(low[1]), int(high[1]))


def _whole_pixels(low, high):
    """The whole pixels between two places; the one about their middle where there is none."""
    first, last = math.ceil(low - NEARLY), math.floor(high + NEARLY)
    if last > first:
        return first, last
    middle = math.floor((low + high) / 2)
    return middle, middle + 1


def _shift(x, y):
    return np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])


def _projected(matrix, x, y):
    a, b, c = (row[0] * x + row[1] * y + row[2] for row in matrix)
    return a / c, b / c
