"""Spots of a frame mended from their surroundings, where its pixels are read.

A spot is a disc. Of places about it, that whose rim is most like the spot's own gives its light,
noise and texture included. What is left between the two rims is continued inwards by Laplace's
equation, as a membrane, and added (Perez, Gangnet and Blake, ACM TOG 22(3):313, 2003): here by its
first five solutions, fitted to the rim by least squares, so that noise of the rim stays there. In
the rim one goes over into the other.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from grading.frame import Frame, Pixels
from grading.pixels import block_means
from grading.region import Region

RIM = 1.4
"""Radius to which a spot is looked at, in radii; it is two pixels larger at least."""

DISTANCES = 2.6, 3.6
"""Of the places that are tried, in radii of the rim over `RIM`; two rims never overlap."""

ANGLES = 24
"""Directions in which they lie."""

FINER = 6
"""Pixels about the best of the places at which others are tried."""

NEAR = range(-FINER, FINER + 1, 2)

LIKE = 0.1
"""What counts of the difference of two rims that the membrane takes up, beside what it leaves."""

UNLIKE = 0.15
"""What a membrane may leave of the difference of two rims, as a share of the light; ours."""

MORE = 1.5
"""How much more than its noise explains the variance of a difference may be; ours."""

LEAST = 1.0
"""Radius in pixels that a spot has at least."""

FLOOR = 1e-3
"""Light, white being 1, that is added to that of a spot where differences are weighed; ours."""


@dataclass(frozen=True)
class Spot:
    """A disc of a frame: its middle across and down, and its radius, in pixels."""

    x: float
    y: float
    radius: float

    @property
    def rim(self) -> float:
        """Radius to which the surroundings count."""
        return max(RIM * self.radius, self.radius + 2)

    @property
    def window(self) -> Region:
        """The square that holds the rim."""
        reach = int(np.ceil(self.rim)) + 1
        y, x = int(self.y), int(self.x)
        return Region(y - reach, y + reach + 1, x - reach, x + reach + 1)

    def moved(self, down: int, across: int) -> Spot:
        """The same elsewhere."""
        return replace(self, x=self.x + across, y=self.y + down)

    def meets(self, other: Spot) -> bool:
        """Whether the rims of two lie upon each other."""
        return np.hypot(self.x - other.x, self.y - other.y) < self.rim + other.rim


@dataclass(frozen=True, eq=False)
class MendedPixels:
    """Pixels of a frame with patches laid over them; see `grading.frame.Pixels`.

    Attributes
    ----------
    pixels : Pixels
    spots : tuple of Spot
    patches : tuple of (Region, ndarray)
        Light of some regions, later ones over earlier ones.
    left : tuple of Spot
        Those that stay as they are.
    """

    pixels: Pixels
    spots: tuple[Spot, ...]
    patches: tuple[tuple[Region, np.ndarray], ...] = ()
    left: tuple[Spot, ...] = ()

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, MendedPixels)
            and self.pixels is other.pixels
            and self.spots == other.spots
        )

    __hash__ = None

    @property
    def height(self) -> int:
        """Rows."""
        return self.pixels.height

    @property
    def width(self) -> int:
        """Columns."""
        return self.pixels.width

    def read(self, region: Region) -> np.ndarray:
        """Pixels of a region, shape (3, rows, columns)."""
        light = self.pixels.read(region)
        for place, patch in self.patches:
            part = place.grown(0, region)
            if part.top < part.bottom and part.left < part.right:
                rows = slice(part.top - region.top, part.bottom - region.top)
                columns = slice(part.left - region.left, part.right - region.left)
                light[:, rows, columns] = part.cut(patch, place)
        return light

    def reduced(self, factor: int) -> np.ndarray:
        """Means of factor x factor blocks; those that a patch touches are made of mended pixels."""
        small = self.pixels.reduced(factor)
        for place, _ in self.patches:
            top, left = place.top // factor, place.left // factor
            blocks = Region(
                top * factor, min(-(-place.bottom // factor) * factor, self.height),
                left * factor, min(-(-place.right // factor) * factor, self.width),
            )  # fmt: skip
            means = block_means(self.read(blocks), factor)
            small[:, top : top + means.shape[1], left : left + means.shape[2]] = means
        return small


def mended(frame: Frame, spots: tuple[Spot, ...]) -> Frame:
    """A frame whose spots are mended, one after the other.

    A spot stays where no place about it lies in the frame and clear of other spots, or none is like
    it: where an edge passes, a patch would be worse than the spot.

    Parameters
    ----------
    frame : Frame
    spots : tuple of Spot
    """
    pixels = MendedPixels(frame.pixels, spots)
    for spot in spots:
        patch = _patch(spot, pixels, frame.region)
        if patch is None:
            pixels = replace(pixels, left=(*pixels.left, spot))
        else:
            pixels = replace(pixels, patches=(*pixels.patches, patch))
    return Frame(frame.facts, pixels, frame.exif, frame.scale)


def _patch(spot, pixels, frame):
    """Where a patch goes, and its light; None where it is made of nothing like its surroundings."""
    window = spot.window.grown(0, frame)

    def is_free(move):
        place, there = _shifted(window, move), spot.moved(*move)
        others = (other for other in pixels.spots if other != spot)
        return place.grown(0, frame) == place and not any(map(there.meets, others))

    moves = list(filter(is_free, _moves(spot)))
    if not moves:
        return None
    around = _around([_shifted(window, move) for move in moves]).grown(FINER, frame)
    source, here = pixels.read(around), pixels.read(window)
    distance = _distance(spot, window)
    rim = (distance > spot.radius) & (distance <= spot.rim)
    membrane = _membrane(spot, window)[: 5 if window == spot.window else 3]

    @cache
    def tried(move):
        return _laid(here, _shifted(window, move).cut(source, around), rim, membrane)

    best = min(moves, key=lambda move: tried(move)[0])
    near = [(best[0] + down, best[1] + across) for down in NEAR for across in NEAR]
    best = min(filter(is_free, near), key=lambda move: tried(move)[0])
    _, unlike, light = tried(best)
    if unlike > UNLIKE:
        return None
    share = np.clip((spot.rim - distance) / (spot.rim - spot.radius), 0, 1)
    share = share * share * (3 - 2 * share)
    return window, (here + share * (light - here)).astype(np.float32)


def _moves(spot):
    """Ways down and across to places about a spot; even, so that sites of a mosaic stay alike."""
    angles = 2 * np.pi * np.arange(ANGLES) / ANGLES
    for distance in DISTANCES:
        length = distance / RIM * spot.rim / 2
        for angle in angles:
            yield 2 * round(np.sin(angle) * length), 2 * round(np.cos(angle) * length)


def _shifted(region, move):
    down, across = move
    return Region(region.top + down, region.bottom + down, region.left + across,
                  region.right + across)  # fmt: skip


def _around(regions):
    tops, bottoms, lefts, rights = zip(*regions, strict=True)
    return Region(min(tops), max(bottoms), min(lefts), max(rights))


def _from_middle(spot, window):
    y, x = np.mgrid[window.top : window.bottom, window.left : window.right]
    return x + 0.5 - spot.x, y + 0.5 - spot.y


def _distance(spot, window):
    return np.hypot(*_from_middle(spot, window))


def _membrane(spot, window):
    """Solutions of Laplace's equation at each pixel, shape (5, rows, columns).

    Only the first three are told apart by a rim that the border of the frame cuts.
    """
    x, y = (each / spot.rim for each in _from_middle(spot, window))
    return np.stack([np.ones_like(x), x, y, x * x - y * y, x * y])


def _noise(light, rim):
    """Deviation of the difference of two places that differ by their noise alone, by channel: from
    the middle difference of neighbours in a rim, of which edges are few; 0.6745 is that of a normal
    distribution. None in a rim without neighbours, that of a frame of a few pixels."""
    pairs = rim[:, 2:] & rim[:, :-2]
    if not pairs.any():
        return np.zeros(len(light))
    apart = np.abs(light[:, :, 2:] - light[:, :, :-2])[:, pairs]
    return np.median(apart, axis=1) / 0.6745


def _laid(here, there, rim, membrane):
    """How far two rims are apart, how much a membrane leaves of that beside noise, and the light of
    one place laid upon the other."""
    terms = membrane[:, rim].T
    apart = (here[:, rim] - there[:, rim]).T.astype(np.float64)
    course, *_ = np.linalg.lstsq(terms, apart, rcond=None)
    left, level = apart - terms @ course, np.abs(here[:, rim]).mean(axis=1) + FLOOR
    unlike = np.square(left / level).mean()
    rest = float(unlike + LIKE * np.square(apart / level).mean())
    seen = unlike - MORE * np.square(_noise(here, rim) / level).mean()
    return rest, float(np.sqrt(max(seen, 0))), there + np.tensordot(course.T, membrane, 1)
