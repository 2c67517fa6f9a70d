"""Dust on a sensor, found where many frames are a little darker at the same place of it.

In a smooth place a spot is darker than the ring about it, at some size. What moves, such as birds,
and what belongs to a scene is not there in frames of another scene; lamps are brighter.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.kernels.base import box_mean

EDGE = 2048
"""Pixels of the long edge at which dust is looked for, at most."""

SIZES = 1, 2, 4, 7, 12
"""Half sides in pixels, at that size, of what is compared with its surroundings."""

FAINTEST, DEEPEST = 0.008, 0.7
"""Share of the light that a spot takes, at least and at most."""

CLEAR = 3.5
"""Deviations of a mean by which a spot is darker than its surroundings, at least."""

SMOOTH = 0.05
"""Deviation about a spot, as a share of the light, up to which a place counts as smooth."""

NOISIEST = 0.1
"""Deviation from pixel to pixel that counts as noise at most; more is texture."""

FEWEST = 3
"""Frames of different scenes that must show a spot."""

OFTEN = 0.6
"""Share of the frames in which a place is smooth that must show its spot."""

ALIKE = 0.95
"""Correlation from which two frames are of one scene."""

SCENE = 24
"""Pixels a side to which frames are reduced for that."""

WHOLE = 0.6
"""Share of the greatest depth that the largest square about a spot still has."""

WIDER = 1.6
"""Radius to be mended, in half sides of that square, for the soft rim of a spot."""

BLACK = 2e-3
"""Light below which nothing is looked for, white being 1."""


class Dust(NamedTuple):
    """A spot: its middle in fractions of the sensor's picture, its radius in fractions of the long
    edge, how many frames show it, and what share of the light it takes in the middle one."""

    x: float
    y: float
    radius: float
    frames: int
    depth: float


class Darker(NamedTuple):
    """Of a frame: where it is smooth, how much darker each place is than the ring about it as a
    share of its light (0 where not clearly so), and the largest half side at which it is so."""

    smooth: np.ndarray
    depth: np.ndarray
    size: np.ndarray


def darker(light: np.ndarray) -> Darker:
    """Where a frame has dark spots in smooth places.

    Parameters
    ----------
    light : ndarray, shape (3, rows, columns)
        Linear light at reduced size.
    """
    grey = light.mean(axis=0, dtype=np.float64)
    lit = grey > BLACK
    level = np.log(np.where(lit, grey, BLACK))
    noise = _noise(level)
    smooth, depth = np.zeros(grey.shape, bool), np.zeros(grey.shape)
    size = np.zeros(grey.shape, np.uint8)
    for half in SIZES:
        inner, sides, even = _compared(level, half, noise)
        found = sides - inner
        clear = CLEAR * noise / half
        seen = even & lit & (found > np.maximum(clear, FAINTEST)) & (found < DEEPEST)
        depth = np.where(seen & (found > depth), found, depth)
        size[seen & (found > WHOLE * depth)] = half
        smooth |= even & lit
    return Darker(smooth, depth, size)


def _compared(level, half, noise):
    """Means of squares, the darkest mean of eight squares about each, and where the ring that holds
    these is even; nowhere at the border, where there is no ring."""
    near, far = half + 2 + half // 2, 3 * half + 4
    outer, gap = (2 * far + 1) ** 2, (2 * near + 1) ** 2
    share = gap / (outer - gap)

    def in_ring(plane):
        return (1 + share) * box_mean(plane, far) - share * box_mean(plane, near)

    deviation = np.sqrt(np.maximum(in_ring(np.square(level)) - np.square(in_ring(level)), 0))
    even = deviation < SMOOTH + 1.5 * min(noise, NOISIEST)
    even[:far] = even[-far:] = even[:, :far] = even[:, -far:] = False
    side, way = box_mean(level, (far - near) // 2), (near + far + 1) // 2
    steps = [(y, x) for y in (-way, 0, way) for x in (-way, 0, way) if (y, x) != (0, 0)]
    sides = np.min([np.roll(side, step, axis=(0, 1)) for step in steps], axis=0)
    return box_mean(level, half), sides, even


def _noise(level):
    """Deviation from pixel to pixel: from the middle difference, of which edges are few."""
    return np.median(np.abs(np.diff(level, axis=1))) / (0.6745 * np.sqrt(2))


class Search:
    """What frames of one sensor have in common.

    Frames are given as the sensor recorded them, not turned upright, all of one size.
    """

    def __init__(self) -> None:
        self._scenes, self._found = [], []

    @property
    def scenes(self) -> int:
        """How many different scenes there were."""
        return len(self._scenes)

    def add(self, light: np.ndarray) -> bool:
        """Take in a frame; whether it counts: it does not where an earlier one has its scene.

        Parameters
        ----------
        light : ndarray, shape (3, rows, columns), float32
        """
        scene = _scene(light)
        if any(np.mean(scene * other) > ALIKE for other in self._scenes):
            return False
        self._scenes.append(scene)
        found = darker(light)
        if len(self._found) == 0:
            self._found = [np.zeros(found.depth.shape) for _ in range(4)]
        seen = found.depth > 0
        for total, plane in zip(
            self._found, (found.smooth, seen, found.depth, found.size), strict=True
        ):
            total += plane
        return True

    def dust(self) -> list[Dust]:
        """The spots, those that take most light first."""
        if not self._found:
            return []
        smooth, seen, depth, size = self._found
        often = (seen >= FEWEST) & (seen >= OFTEN * smooth)
        strength, found = np.where(often, depth, 0), []
        rows, columns = strength.shape
        y, x = np.mgrid[0:rows, 0:columns]
        while strength.max() > 0:
            top, left = np.unravel_index(strength.argmax(), strength.shape)
            count = seen[top, left]
            half = size[top, left] / count
            found.append(
                Dust(
                    float(left + 0.5) / columns, float(top + 0.5) / rows,
                    float(WIDER * half + 1) / max(rows, columns), int(count),
                    float(depth[top, left] / count),
                )
            )  # fmt: skip
            strength[np.hypot(y - top, x - left) < 4 * half + 4] = 0
        return found


def _scene(light):
    """A frame so small that only its scene is left, with mean 0 and deviation 1."""
    grey = np.log(np.maximum(light.mean(axis=0), BLACK))
    rows, columns = (np.linspace(0, n, SCENE + 1).astype(int)[:-1] for n in grey.shape)
    small = np.add.reduceat(np.add.reduceat(grey, rows, axis=0), columns, axis=1)
    small = small - small.mean()
    return small / (small.std() + 1e-9)
