"""Shifts in mired beside the published ones of conversion filters."""

from functools import cache
from typing import NamedTuple

import numpy as np

from grading.colour.difference import delta_e_2000
from grading.colour.oklab import oklab_to_xyz, xyz_to_oklab
from grading.colour.spaces import D65, xy_to_xyz, xyz_to_xy
from grading.colour.white import kelvin_duv_to_xy, kelvin_to_mired, xy_to_kelvin_duv
from truth.pictures import shown
from truth.spectra import to_lab

FILTERS = {
    "80A": (3200, 5500, -131),
    "80B": (3400, 5500, -112),
    "80C": (3800, 5500, -81),
    "80D": (4200, 5500, -56),
    "85": (5500, 3400, 112),
    "85B": (5500, 3200, 131),
    "85C": (5500, 3800, 81),
}
"""Kelvin of the light, kelvin it is converted to, and shift in mired: handbooks of photographic
filters, from memory."""


class Shift(NamedTuple):
    """A filter's published shift, that between its two temperatures, and what a grey in D65
    has moved by in the output, all in mired; then what is left of a cast, in CIEDE2000, on a
    grey under the filter's light that was balanced for the other and shifted."""

    filter: str
    published: int
    exact: float
    moved: float
    cast: float


def _grey(xy, **balance):
    """XYZ in the output of a grey that had a chromaticity."""
    lab = np.tile(xyz_to_oklab(0.18 * xy_to_xyz(xy)), (2, 2, 1))
    return oklab_to_xyz(shown(lab, "bt2020", white_balance=balance)).mean(axis=(0, 1))


def _mired(xy):
    return kelvin_to_mired(xy_to_kelvin_duv(xy)[0])


@cache
def measure_filter(name):
    """One of `FILTERS`."""
    source, target, published = FILTERS[name]
    shift = float(published)
    moved = _mired(xyz_to_xy(_grey(D65, as_shot=True, shift=shift))) - _mired(D65)
    thermal = kelvin_duv_to_xy(source, 0.0)
    lab = to_lab(_grey(thermal, kelvin=float(target), duv=0.0, shift=shift))
    return Shift(
        filter=name,
        published=published,
        exact=float(kelvin_to_mired(target) - kelvin_to_mired(source)),
        moved=float(moved),
        cast=float(delta_e_2000(lab, lab * (1, 0, 0))),
    )
