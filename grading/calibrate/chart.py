"""The chart: 24 patches in 4 rows of 6, and the colours published for them.

The colours are the reference data of the chart's maker as colour-science carries them (its
``CCS_COLOURCHECKERS``), CIE xyY under D50. This is the one module that imports colour-science,
which takes a second, and only when the colours are asked for.

Chart coordinates count patches: (0, 0) is the centre of the first patch, dark skin, (5, 0) that of
the last one in its row, (0, 3) that of the white patch.
"""

import warnings
from functools import cache
from typing import NamedTuple

import numpy as np

from grading.colour.adaptation import cat16
from grading.colour.difference import xyz_to_lab
from grading.colour.spaces import D65, xy_to_xyz

ROWS, COLUMNS = 4, 6
PATCHES = ROWS * COLUMNS

GREYS = slice(18, 23)
"""The neutral patches but for the black one, which shows more flare than light of its own."""

PATCH_SIDE = 0.87
"""Side of a patch as a share of the distance from one to the next (measured on a photograph)."""

CENTRES = np.array([(x, y) for y in range(ROWS) for x in range(COLUMNS)], np.float64)
"""Chart coordinates of the patches, shape (24, 2)."""

WHITE = xy_to_xyz(D65)


class Edition(NamedTuple):
    """When a chart was made, and how what colour-science calls its colours ends."""

    words: str
    source: str


EDITIONS = {
    "since-2014": Edition("made since November 2014", "24 - After November 2014"),
    "before-2014": Edition("made before November 2014", "24 - Before November 2014"),
}
"""The pigments changed; colours of the two differ by 0.8 CIEDE2000 on average."""

NEWEST = "since-2014"


class Reference(NamedTuple):
    """The colours of the patches by day.

    Attributes
    ----------
    names : tuple of str
    xyz : ndarray, shape (24, 3)
        CIE 1931 XYZ, adapted from D50 to D65 by CAT16; Y of a perfect white is 1.
    lab : ndarray, shape (24, 3)
        The same as CIE 1976 L*a*b* relative to D65.
    """

    names: tuple[str, ...]
    xyz: np.ndarray
    lab: np.ndarray


@cache
def reference(edition: str = NEWEST) -> Reference:
    """The published colours.

    Parameters
    ----------
    edition : {"since-2014", "before-2014"}
        One of `EDITIONS`.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # that it has nothing to draw diagrams with
        from colour.characterisation import CCS_COLOURCHECKERS

    name = next(name for name in CCS_COLOURCHECKERS if name.endswith(EDITIONS[edition].source))
    chart = CCS_COLOURCHECKERS[name]
    x, y, light = np.array([*chart.data.values()]).T
    xyz = np.stack([x, y, 1 - x - y], axis=-1) * (light / y)[:, None]
    xyz = xyz @ cat16(xy_to_xyz(chart.illuminant), WHITE).T
    names = tuple(name.partition(" (")[0] for name in chart.data)  # without density
    return Reference(names, xyz, xyz_to_lab(xyz, WHITE))
