"""A look in Oklab as a lattice of samples, as fine as it needs to be.

The lattice is even in nothing but its numbering: along a and b it is denser towards grey, where
hue turns fastest, and along lightness where the tones bend.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from grading.colour import oklab, spaces, transfer
from grading.interchange.clf_text import TOP_CODE
from grading.stages.tone_curve import TABLE_TOP

if TYPE_CHECKING:
    from grading.colour.spaces import RGBSpace
    from grading.interchange.portable import PortableLook

SIZES = (33, 49, 65, 81)
"""Nodes along each axis, from the coarsest (0.8 MB of text) to the finest (under 10 MB)."""

GOOD = 0.75 / 1023
"""A difference in encoded values with which a size is good enough."""

SHARE = 0.9
"""Of the chroma that the output space can show: colours up to it belong to the domain."""

STEPS = 8192
"""Steps of the curves that number the nodes; nodes lie on them."""

_MARGIN = 1.12
"""Of the lattice beyond its domain, so that it reaches all chroma that the space can show."""

_SEARCHES, _ROUNDS = 256, 12
"""Colours from which the worst is searched for, and steps of the search."""


@dataclass(frozen=True)
class Lattice:
    """Samples of a look.

    Attributes
    ----------
    low, high : ndarray, shape (3,)
        Oklab of the scene's light at the lattice's ends.
    curves : ndarray, shape (`STEPS` + 1, 3)
        From even steps between the ends to the number of a node, as a share of all.
    codes : ndarray, shape (n, n, n, 3), int64
        Oklab of the picture at the nodes, 0..65535 between `floor` and `ceiling`.
    floor, ceiling : ndarray, shape (3,)
    """

    low: np.ndarray
    high: np.ndarray
    curves: np.ndarray
    codes: np.ndarray
    floor: np.ndarray
    ceiling: np.ndarray

    def at(self, lab: np.ndarray) -> np.ndarray:
        """Oklab of the picture for Oklab of the scene's light, (n, 3), by interpolation."""
        steps = (lab - self.low) / (self.high - self.low) * STEPS
        grid = np.arange(STEPS + 1)
        shares = [np.interp(steps[:, c], grid, self.curves[:, c]) for c in range(3)]
        codes = _trilinear(self.codes, np.stack(shares, axis=1))
        return self.floor + codes / TOP_CODE * (self.ceiling - self.floor)

    def place(self, shares: np.ndarray) -> np.ndarray:
        """Oklab of the scene's light, (n, 3), at numbers of nodes as shares of all."""
        grid = np.linspace(0, 1, STEPS + 1)
        steps = [np.interp(shares[:, c], self.curves[:, c], grid) for c in range(3)]
        return self.low + np.stack(steps, axis=1) * (self.high - self.low)


def sample(look: PortableLook, space: RGBSpace) -> tuple[Lattice, float]:
    """The coarsest lattice that is good enough for a look, or else the finest.

    Parameters
    ----------
    look : PortableLook
    space : RGBSpace
        Of the output.

    Returns
    -------
    Lattice
    difference : float
        Largest difference from the look that a search over the domain finds, in encoded values
        0..1.
    """
    colours = _colours(look, space)
    colours = colours[in_domain(look, colours, space)[0]]
    low, high = _MARGIN * colours.min(axis=0), _MARGIN * colours.max(axis=0)
    low[0] = 0
    for size in SIZES:
        lattice = _sampled(look, low, high, size)
        difference = largest_difference(look, lattice, space, colours)
        if difference < GOOD:
            break
    return lattice, difference


def largest_difference(
    look: PortableLook, lattice: Lattice, space: RGBSpace, colours: np.ndarray, seed: int = 0
) -> float:
    """Largest difference of a lattice from its look that is found within the domain.

    Parameters
    ----------
    look : PortableLook
    lattice : Lattice
    space : RGBSpace
        Of the output.
    colours : ndarray, shape (n, 3)
        Oklab of light to begin with, beside the middle and another place of each cell.
    seed : int
        Of the search, which moves the worst colours about, less and less far.

    Returns
    -------
    float
        In encoded values 0..1.
    """
    rng = np.random.default_rng(seed)
    cells = len(lattice.codes) - 1
    middles = np.stack(np.meshgrid(*[np.arange(cells) + 0.5] * 3, indexing="ij"), axis=-1)
    middles = middles.reshape(-1, 3)
    elsewhere = np.floor(middles) + rng.random(middles.shape)
    places = lattice.place(np.concatenate([middles, elsewhere]) / cells)
    found = np.concatenate([colours, places])
    off = _differences(look, lattice, space, found)
    worst = np.argsort(off)[-_SEARCHES:]
    found, off = found[worst], off[worst]
    reach = (lattice.high - lattice.low) / cells
    for step in range(_ROUNDS):
        moved = found + rng.normal(0, 0.7**step, (16, *found.shape)) * reach
        tried = _differences(look, lattice, space, moved.reshape(-1, 3)).reshape(16, -1)
        best, each = tried.argmax(axis=0), np.arange(len(found))
        better = tried[best, each] > off
        found = np.where(better[:, None], moved[best, each], found)
        off = np.where(better, tried[best, each], off)
    return float(off.max())


def _differences(look, lattice, space, lab):
    """Largest difference of each colour in encoded values; 0 outside of the domain."""
    inside, pictured = in_domain(look, lab, space)
    codes = encoded(pictured[inside], space)
    off = np.zeros(len(lab))
    off[inside] = np.abs(encoded(lattice.at(lab[inside]), space) - codes).max(axis=1)
    return off


def in_domain(
    look: PortableLook, lab: np.ndarray, space: RGBSpace
) -> tuple[np.ndarray, np.ndarray]:
    """Which colours a lattice answers for, and what the look makes of all.

    These are the colours with at most `SHARE` of the chroma that the output space can show at
    their hue and lightness, after the tone curve as well as at the end.

    Parameters
    ----------
    look : PortableLook
    lab : ndarray, shape (n, 3)
        Oklab of the scene's light.
    space : RGBSpace
        Of the output.

    Returns
    -------
    inside : ndarray of bool, shape (n,)
    pictured : ndarray, shape (n, 3)
        Oklab of the picture.
    """
    toned, pictured = replace(look, steps=look.steps[:1]).apply(lab), look.apply(lab)
    return _shown(toned, space) & _shown(pictured, space), pictured


def encoded(lab: np.ndarray, space: RGBSpace) -> np.ndarray:
    """Encoded RGB of a space for Oklab, each channel within 0..1."""
    return transfer.encode(space.transfer, np.clip(_linear(lab, space), 0, 1))


def _linear(lab, space):
    return oklab.oklab_to_xyz(lab) @ spaces.xyz_to_rgb(space).T


def _shown(lab, space):
    linear = _linear(lab / (1, SHARE, SHARE), space)
    return (linear.min(axis=1) >= 0) & (linear.max(axis=1) <= 1)


def _colours(look, space):
    """Oklab of light over all that can be within the domain, on an even grid."""
    corners = np.array(list(np.ndindex(2, 2, 2))[1:], float) @ spaces.rgb_to_xyz(space).T
    corners = oklab.xyz_to_oklab(corners)
    ratios = corners[:, 1:] / corners[:, :1]
    scales = [np.linspace(*ends, 49) for ends in zip(ratios.min(0), ratios.max(0), strict=True)]
    light = _whitest(look) * np.linspace(0, 1, 130)[1:]
    grid = np.stack(np.meshgrid(light, *scales, indexing="ij"), axis=-1).reshape(-1, 3)
    return grid * np.stack([np.ones(len(grid)), grid[:, 0], grid[:, 0]], axis=1)


def _whitest(look):
    """Lightness of the scene's grey from which on a picture shows white."""
    lightness = np.linspace(0, TABLE_TOP, 1025)
    shown = look.apply(_greys(lightness))[:, 0] < 1
    return lightness[min(np.flatnonzero(shown).max() + 1, 1024)]


def _greys(lightness):
    return np.stack([lightness, 0 * lightness, 0 * lightness], axis=1)


def _sampled(look, low, high, size):
    nodes = [_where_tones_bend(look, high[0], size)]
    nodes += [_about_grey(low[c], high[c], size) for c in (1, 2)]
    nodes = np.round(nodes)
    grid, shares = np.arange(STEPS + 1), np.linspace(0, 1, size)
    axes = low[:, None] + nodes / STEPS * (high - low)[:, None]
    at_nodes = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    lab = look.apply(at_nodes.reshape(-1, 3))
    floor, ceiling = lab.min(axis=0), lab.max(axis=0) + 1e-9
    codes = np.round((lab - floor) / (ceiling - floor) * TOP_CODE).astype(np.int64)
    return Lattice(
        low,
        high,
        np.stack([np.interp(grid, row, shares) for row in nodes], axis=1),
        codes.reshape(at_nodes.shape),
        floor,
        ceiling,
    )


def _where_tones_bend(look, high, size):
    """Steps of nodes as dense as linear interpolation of the grey scale asks for.

    That is as the square root of the second derivative, with half of the nodes at even steps.
    """
    tones = look.apply(_greys(np.linspace(0, high, 257)))[:, 0]
    bend = np.sqrt(np.abs(np.gradient(np.gradient(tones))))
    course = np.cumsum(bend + max(bend.mean(), 1e-6))
    wanted = np.linspace(course[0], course[-1], size)
    return np.interp(wanted, course, np.linspace(0, STEPS, 257))


def _about_grey(low, high, size):
    """Steps of nodes that thicken towards 0 as the square root, with one at 0 itself."""
    roots = np.sqrt([-low, high])
    below = round((size - 1) * roots[0] / roots.sum())
    values = np.concatenate(
        [low * np.linspace(1, 0, below + 1)[:-1] ** 2, high * np.linspace(0, 1, size - below) ** 2]
    )
    return (values - low) / (high - low) * STEPS


def _trilinear(table, shares):
    position = np.clip(shares, 0, 1) * (len(table) - 1)
    corner = np.minimum(position.astype(int), len(table) - 2)
    rest = position - corner
    out = np.zeros_like(shares)
    for step in np.ndindex(2, 2, 2):
        weight = np.prod(np.where(step, rest, 1 - rest), axis=1, keepdims=True)
        out += weight * table[tuple((corner + step).T)]
    return out
