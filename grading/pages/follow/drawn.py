"""What is drawn on a picture, as lines that can be pasted into a recipe."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from grading.colour import oklab
from grading.engine.descent import taken_through
from grading.pages.follow.reading import GREY_CHROMA
from grading.pages.follow.session import Rendering
from grading.region import Region

Points = Sequence[Sequence[float]]

SPREAD = 2.0
"""Deviations of the hues in a box that a window about them reaches on each side, at half weight."""

WIDTHS = (20.0, 180.0)
"""Degrees of a window of hue, at least and at most."""

ROUGHNESS = 0.004
"""Of the long edge: how far an outline may be from the path that was drawn."""


@dataclass(frozen=True)
class Stroke:
    """What was drawn.

    Attributes
    ----------
    points : list of (float, float)
        Two or more places as fractions of the frame.
    ends : list of (float, float)
        The first and the last as fractions of the frame once it is turned, before it is cropped.
    lab : ndarray, shape (3, rows, columns)
        The picture, Oklab, in the box about the points.
    size : (int, int)
        Width and height of the frame.
    """

    points: Points
    ends: Points
    lab: Any
    size: tuple[int, int]


@dataclass(frozen=True)
class Tool:
    """Something to draw: the recipe key that comes of it, what to draw, and lines of a recipe."""

    name: str
    hint: str
    text: Callable[[Stroke], str]


def _gradient(stroke):
    full, none = _place(stroke.points[0]), _place(stroke.points[-1])
    return f"where: {{gradient: {{full: {full}, none: {none}}}}}"


def _ellipse(stroke):
    (x, y), (right, low) = stroke.points[0], stroke.points[-1]
    width, height = np.array(stroke.size) / max(stroke.size)
    radius = [max(abs(right - x) * width, 0.002), max(abs(low - y) * height, 0.002)]
    return f"where: {{ellipse: {{centre: {_place((x, y))}, radius: {_place(radius)}}}}}"


def _polygon(stroke):
    corners = ", ".join(map(_place, outline(stroke.points, stroke.size)))
    return f"where: {{polygon: {{points: [{corners}]}}}}"


def _hues(stroke):
    found = hue_window(stroke.lab)
    if found is None:
        return "# grey: there is no hue in this box"
    centre, width = found
    return f"hues: {{mine: {{centre: {centre:.0f}, width: {width:.0f}, saturation: 0.3}}}}"


def _level(stroke):
    return f"framing: {{level: [{_place(stroke.points[0])}, {_place(stroke.points[-1])}]}}"


def _crop(stroke):
    (left, right), (top, bottom) = (sorted(each) for each in zip(*stroke.ends, strict=True))
    box = f"left: {left:.4f}, top: {top:.4f}, right: {right:.4f}, bottom: {bottom:.4f}"
    return f"framing: {{crop: {{{box}}}}}"


def _place(point):
    return f"[{point[0]:.4f}, {point[1]:.4f}]"


TOOLS = (
    Tool("gradient", "From where it is whole to where it ends.", _gradient),
    Tool("ellipse", "From the middle to a corner of the box about it.", _ellipse),
    Tool("polygon", "Around the place.", _polygon),
    Tool("hues", "A box over the colours.", _hues),
    Tool("level", "Along what should be level, or upright.", _level),
    Tool("crop", "From corner to corner of what is to be shown.", _crop),
)
"""In the order in which the page offers them."""

TOOLS_BY_NAME = {tool.name: tool for tool in TOOLS}

MAX_POINTS = 400
"""Of a path that is drawn."""


def drawn(tool: Tool, rendering: Rendering, points: Points) -> str:
    """Lines of a recipe for what was drawn on a picture.

    Parameters
    ----------
    tool : Tool
    rendering : grading.pages.follow.session.Rendering
    points : sequence of [x, y]
        Fractions of the picture, at least two.
    """
    plan, small = rendering.plan, rendering.opened.small
    rows, columns = small.region.shape
    within = np.clip([plan.view.to_frame(*point) for point in points], 0, 1)
    places = within * (columns, rows)
    left, top = np.floor(places.min(axis=0)).astype(int)
    right, bottom = np.ceil(places.max(axis=0)).astype(int)
    region = Region(
        min(top, rows - 1), max(bottom, top + 1), min(left, columns - 1), max(right, left + 1)
    )
    lab = taken_through(plan, region)
    begin, across, down = _turned_frame(plan.view)
    ends = [(begin[0] + x * across, begin[1] + y * down) for x, y in (points[0], points[-1])]
    return tool.text(Stroke(within.tolist(), ends, lab, (columns, rows)))


def _turned_frame(view):
    """Where the picture begins in the turned frame, and how much of it is seen each way."""
    left, top, right, bottom = view.box
    return (left, top), right - left, bottom - top


def hue_window(lab: np.ndarray) -> tuple[float, float] | None:
    """Centre and width, in degrees of Oklab hue, of a window about the hues of some pixels.

    Parameters
    ----------
    lab : ndarray, shape (3, rows, columns)
        Oklab.

    Returns
    -------
    (float, float) or None
        None where most of it is grey. Pixels count by their chroma.

    Examples
    --------
    >>> hue_window(np.array([[[0.5, 0.5]], [[0.1, 0.1]], [[0.1, 0.1]]]))
    (45.0, 20.0)
    """
    a, b = lab[1].astype(np.float64), lab[2].astype(np.float64)
    chroma = np.hypot(a, b)
    if np.median(chroma) < GREY_CHROMA:
        return None
    centre = float(oklab.hue([0.5, a.sum(), b.sum()]))
    away = (np.degrees(np.arctan2(b, a)) - centre + 180) % 360 - 180
    deviation = float(np.sqrt((chroma * away**2).sum() / chroma.sum()))
    return centre, float(np.clip(2 * SPREAD * deviation, *WIDTHS))


def outline(points: Points, size: tuple[int, int]) -> list[Sequence[float]]:
    """A path with fewer points, none of the others farther from it than `ROUGHNESS`.

    By the way of D. H. Douglas and T. K. Peucker, Cartographica 10(2), 1973.

    Parameters
    ----------
    points : sequence of [x, y]
        Fractions of the frame.
    size : (int, int)
        Its width and height.

    Examples
    --------
    >>> outline([[0, 0], [0.5, 0.001], [1, 0], [1, 1]], (300, 200))
    [[0, 0], [1, 0], [1, 1]]
    """
    if len(points) < 3:
        return list(points)
    places = np.array(points, np.float64) * size / max(size)
    way = places[-1] - places[0]
    length = np.hypot(*way)
    off = places - places[0]
    distance = np.abs(off @ [-way[1], way[0]]) / length if length else np.hypot(*off.T)
    farthest = int(distance.argmax())
    if distance[farthest] <= ROUGHNESS:
        return [points[0], points[-1]]
    before, after = points[: farthest + 1], points[farthest:]
    return outline(before, size)[:-1] + outline(after, size)
