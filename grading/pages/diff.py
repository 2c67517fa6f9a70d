"""The page that lays two looks of a frame over each other."""

from typing import Any

import numpy as np

from grading.colour import munsell
from grading.inspect.compare import largest_place
from grading.pages import pictures
from grading.pages.comparing import LooksCompared
from grading.recipe.load import Recipe

TICKS = (0, 1, 5, 10, 20, 40)
"""CIEDE2000 written along the scale of the map."""

CHART = (256, 72)
"""Width and height of a histogram in its own units."""


def content(compared: LooksCompared, first: Recipe, second: Recipe) -> dict[str, Any]:
    """What a page says of a frame by itself: a few megabytes, where its pictures may be many."""
    measured = compared.comparison
    height, width = compared.pictures[0].array.shape[:2]
    return dict(
        facts=compared.facts,
        first=first,
        second=second,
        same=compared.same,
        measured=measured,
        measured_size=measured.delta_e.shape[::-1],
        explained=compared.explained,
        width=width,
        height=height,
        looks=[pictures.photograph(picture.array) for picture in compared.pictures],
        resolved=[picture.resolved for picture in compared.pictures],
        clippings=[picture.clipping for picture in compared.pictures],
        marks=[pictures.clipping_marks(each) for each in compared.marks],
        map=pictures.difference_map(measured.delta_e),
        map_colours=[_css(colour) for colour in pictures.scale_of_map()[::15]],
        ticks=[(tick, pictures.place_in_map(tick)) for tick in TICKS],
        place=largest_place(measured.delta_e, max(8, max(measured.delta_e.shape) // 8)),
        swatches={name: _swatch(name) for name in munsell.FAMILIES},
        charts=_charts(compared.histograms),
        chart=CHART,
    )


def _swatch(family):
    """A colour of a hue family for the table, as CSS."""
    hue = np.radians(munsell.hue_degrees(family))
    lab = np.array([0.68, 0.1 * np.cos(hue), 0.1 * np.sin(hue)])
    return _css(pictures.srgb_codes(lab))


def _css(rgb):
    return "#" + "".join(f"{value:02x}" for value in rgb)


def _charts(histograms):
    """Of each channel, the outlines of both looks on one scale; ends stand out, so they are cut."""
    charts = []
    for i, name in enumerate(("Red", "Green", "Blue")):
        both = [histogram[i] for histogram in histograms]
        top = max(np.max(shares[1:-1]) for shares in both) or 1
        charts.append((name, [_outline(shares / top) for shares in both]))
    return charts


def _outline(heights):
    """SVG path of a stepped outline."""
    width, height = CHART
    step = width / len(heights)
    y = height - np.minimum(heights, 1) * (height - 2)
    return f"M0 {height}" + "".join(f"V{v:.1f}h{step:g}" for v in y) + f"V{height}"
