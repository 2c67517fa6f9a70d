"""Colours outside of a gamut, beside the method of W3C CSS Color 4 and plain clipping."""

from functools import cache
from typing import NamedTuple

import numpy as np

from grading.colour import transfer
from grading.colour.oklab import hue, oklab_to_xyz, xyz_to_oklab
from grading.colour.spaces import SPACES, rgb_to_xyz, xyz_to_rgb
from truth.pictures import shown

JND, EPSILON = 0.02, 1e-4
"""Of CSS Color 4: a difference in Oklab that is just not seen, and where the search ends."""

NARROWER = ("srgb", "display-p3", "oprgb")
"""Destinations that cannot show all of the working space."""


def to_rgb(lab, space):
    """Linear RGB of a space, outside of 0..1 where the space cannot show the colour."""
    return oklab_to_xyz(lab) @ xyz_to_rgb(SPACES[space]).T


def from_rgb(rgb, space):
    """Oklab of linear RGB."""
    return xyz_to_oklab(rgb @ rgb_to_xyz(SPACES[space]).T)


def clipped(lab, space):
    """Every channel clipped by itself."""
    return from_rgb(np.clip(to_rgb(lab, space), 0, 1), space)


def fits(lab, space, tolerance=1e-9):
    """Whether a space can show a colour."""
    rgb = to_rgb(lab, space)
    return (rgb.min(axis=-1) >= -tolerance) & (rgb.max(axis=-1) <= 1 + tolerance)


def css_mapped(lab, space):
    """Gamut mapping of W3C CSS Color 4, section "Binary Search Gamut Mapping with Local MINDE".

    Parameters
    ----------
    lab : ndarray, shape (..., 3)
        Oklab.

    Returns
    -------
    ndarray of the same shape
    """
    flat = lab.reshape(-1, 3)
    mapped = clipped(flat, space)
    done = np.linalg.norm(mapped - flat, axis=-1) < JND
    low, high = np.zeros(len(flat)), np.ones(len(flat))
    low_fits = np.ones(len(flat), bool)
    smallest = EPSILON / np.maximum(chroma(flat), EPSILON)
    while (active := ~done & (high - low > smallest)).any():
        share = (low + high) / 2
        trial = flat * np.stack([np.ones_like(share), share, share], axis=-1)
        near = clipped(trial, space)
        distance = np.linalg.norm(near - trial, axis=-1)
        inside = low_fits & fits(trial, space)
        close = distance < JND
        mapped[active & ~inside] = near[active & ~inside]
        done |= active & ~inside & close & (JND - distance < EPSILON)
        low_fits &= ~(active & ~inside & close)
        low = np.where(active & (inside | close), share, low)
        high = np.where(active & ~inside & ~close, share, high)
    mapped[fits(flat, space)] = flat[fits(flat, space)]
    mapped[flat[:, 0] >= 1], mapped[flat[:, 0] <= 0] = (1, 0, 0), (0, 0, 0)
    return mapped.reshape(lab.shape)


def polar(lightness, chroma, degrees):
    """Oklab of lightness, chroma and hue, broadcast; shape (..., 3)."""
    angle = np.radians(degrees)
    parts = np.broadcast_arrays(lightness, chroma * np.cos(angle), chroma * np.sin(angle))
    return np.stack(parts, axis=-1).astype(np.float64)


def turn(lab, other):
    """Difference of hue in degrees, -180 to 180."""
    return (hue(lab) - hue(other) + 180) % 360 - 180


def chroma(lab):
    """Oklab chroma."""
    return np.hypot(lab[..., 1], lab[..., 2])


def steps(lab, axis):
    """Distances in Oklab between neighbours along an axis."""
    return np.linalg.norm(np.diff(lab, axis=axis), axis=-1)


PRIMARIES = {
    "red": ((1, 0, 0), (100, 4.457, 4.593)),
    "green": ((0, 1, 0), (0, 98.576, 15.974)),
    "blue": ((0, 0, 1), (0, 0, 100)),
    "yellow": ((1, 1, 0), (99.623, 99.901, 0)),
    "cyan": ((0, 1, 1), (0, 99.645, 98.471)),
    "magenta": ((1, 0, 1), (100, 16.736, 98.264)),
}
"""Display P3 colours and what they map to in sRGB, per cent of the codes: the tests of color.js,
the library of the specification's editors (test/gamut.js), from memory."""


def reference_error():
    """Largest deviation of `css_mapped` from the published values, per cent of the codes."""
    rgb, published = (np.array(part, float) for part in zip(*PRIMARIES.values(), strict=True))
    mapped = to_rgb(css_mapped(from_rgb(rgb, "display-p3"), "srgb"), "srgb")
    return float(np.abs(100 * transfer.encode("srgb", mapped) - published).max())


class Mapping(NamedTuple):
    """How colours of the working space that a destination cannot show arrive there.

    Turns are degrees of Oklab hue, other differences Oklab. `reversed_lead` is the largest
    lead of one linear channel over another that came out the other way round.
    """

    space: str
    outside: float
    turn: float
    lightness: float
    reversed_lead: float
    chroma_to_css: float
    css_turn: float
    css_lightness: float
    css_reversed_lead: float


@cache
def measure_mapping(space):
    """Colours on a lattice through the working space, of lightness 0.1 and more."""
    level = np.linspace(0, 1, 30) ** 2.5
    lattice = np.stack(np.meshgrid(level, level, level, indexing="ij"), axis=-1)
    lab = from_rgb(lattice, "bt2020").reshape(-1, 3)
    lab = lab[lab[:, 0] >= 0.1]
    outside = ~fits(lab, space)
    lab = lab[outside]
    out = shown(lab[None], space)[0]
    css = css_mapped(lab, space)
    wanted = to_rgb(lab, space)
    return Mapping(
        space=space,
        outside=float(outside.mean()),
        turn=_largest_turn(out, lab),
        lightness=float(np.abs(out - lab)[:, 0].max()),
        reversed_lead=_reversed_lead(wanted, to_rgb(out, space)),
        chroma_to_css=float((chroma(out) - chroma(css)).mean()),
        css_turn=_largest_turn(css, lab),
        css_lightness=float(np.abs(css - lab)[:, 0].max()),
        css_reversed_lead=_reversed_lead(wanted, to_rgb(css, space)),
    )


def _largest_turn(out, lab):
    coloured = chroma(out) > 0.02
    return float(np.abs(turn(out, lab))[coloured].max())


def _reversed_lead(before, after):
    largest = 0.0
    for one, other in ((0, 1), (0, 2), (1, 2)):
        lead, left = before[:, one] - before[:, other], after[:, one] - after[:, other]
        reversed_ = (lead * left < 0) & (np.abs(left) > 1e-3)
        largest = max(largest, float(np.abs(lead[reversed_]).max(initial=0)))
    return largest


class Sweep(NamedTuple):
    """A sweep of neighbouring colours, before and after, distances in Oklab.

    `backward` is the largest fall of lightness along a sweep that rises, `stretch` the largest
    ratio of a step to the step it came from, `bend` the largest change from one step to the
    next as a share of the longest step of the input, and `input_bend` the input's own.
    """

    space: str
    sweep: str
    backward: float
    run: int
    stretch: float
    bend: float
    input_bend: float
    css_stretch: float
    css_bend: float


def blues():
    """Sweeps of saturated blues by name: linear ITU-R BT.2020, rising in lightness."""
    t = np.linspace(0, 1, 400)[:, None] ** 1.5
    blue = np.array([0.0, 0.0, 1.0])
    return {
        "blue to white": blue + t * (1 - blue),
        "dark to blue": (0.05 + 0.95 * t) * blue,
        "blue with cyan": blue + t * [0.0, 0.6, 0.0],
        "blue with magenta": blue + t * [0.6, 0.0, 0.0],
    }


@cache
def measure_sweep(name, space):
    """One of `blues`, shown by a destination."""
    lab = from_rgb(blues()[name], "bt2020")
    out = shown(lab[None], space)[0]
    css = css_mapped(lab, space)
    longest = float(steps(lab, 0).max())
    still = np.flatnonzero(np.append(steps(out, 0) > 0, True))
    return Sweep(
        space=space,
        sweep=name,
        backward=float(-min(np.diff(out[:, 0]).min(), 0)),
        run=int(np.diff(still, prepend=-1).max()),
        stretch=float((steps(out, 0) / steps(lab, 0)).max()),
        bend=_bend(out) / longest,
        input_bend=_bend(lab) / longest,
        css_stretch=float((steps(css, 0) / steps(lab, 0)).max()),
        css_bend=_bend(css) / longest,
    )


def _bend(lab):
    return float(np.linalg.norm(np.diff(lab, 2, axis=0), axis=-1).max())


@cache
def boundary_stretch(space):
    """Largest ratio of a step to the step it came from, on lines from grey out of the gamut."""
    lightness, degrees = np.linspace(0.2, 0.95, 16)[:, None, None], np.arange(0, 360, 3)[:, None]
    lab = polar(lightness, np.linspace(0, 0.36, 73), degrees)
    out = shown(lab.reshape(-1, 73, 3), space).reshape(lab.shape)
    return float((steps(out, 2) / steps(lab, 2)).max())


class Jump(NamedTuple):
    """The largest step between outside colours whose hues are 0.01 degrees apart, in Oklab."""

    space: str
    step: float
    lightness: float
    degrees: float
    elsewhere: float
    """The largest more than a degree of hue away."""
    css: float
    """The largest by the method of CSS, within ten degrees of hue."""


@cache
def measure_jump(space):
    """Search all hues, lightness 0.1 to 0.95, at chroma 0.32 which no destination shows."""
    lightness, degrees = np.arange(0.1, 0.96, 0.05), np.arange(0, 360, 0.01)
    lab = polar(lightness[:, None], 0.32, degrees)
    moved = steps(shown(lab, space), 1)
    row, column = np.unravel_index(moved.argmax(), moved.shape)
    distance = np.abs((degrees[:-1] - degrees[column] + 180) % 360 - 180)
    return Jump(
        space=space,
        step=float(moved.max()),
        lightness=float(lightness[row]),
        degrees=float(degrees[column]),
        elsewhere=float(moved[:, distance > 1].max()),
        css=float(steps(css_mapped(lab[:, :-1][:, distance < 10], space), 1).max()),
    )
