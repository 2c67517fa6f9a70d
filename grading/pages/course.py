"""The page of an evening's light: what was recorded, what the light did, and what levels it."""

from collections.abc import Sequence
from math import ceil, floor, log10
from typing import NamedTuple

from grading.colour.white import kelvin_to_mired
from grading.evening.level.corrections import Levelled
from grading.pages.html import page

WIDTH, HEIGHT = 1000.0, 180.0
"""Of a chart, in its own units."""


class Line(NamedTuple):
    """A quantity over the evening: its name, its place in a chart at each frame, and its marks."""

    name: str
    kind: str
    points: list[tuple[float, float]]


class Chart(NamedTuple):
    """Lines on one scale, with the values that are named at its side and their heights."""

    title: str
    lines: list[Line]
    ticks: list[tuple[str, float]]


def course_page(title: str, levels: Sequence[Levelled]) -> bytes:
    """The page, as bytes of an HTML file.

    Parameters
    ----------
    title : str
        Of the shoot.
    levels : sequence of Levelled
        In order of capture.
    """
    first, last = levels[0].captured.time, levels[-1].captured.time
    whole = max((last - first).total_seconds(), 1)
    across = [WIDTH * (each.captured.time - first).total_seconds() / whole for each in levels]
    recorded = [each.recorded for each in levels]
    levelled = [each.recorded + each.stops for each in levels]
    charts = [
        _chart("Middle of the frame, stops from white", across,
               ("as recorded", "hollow", recorded), ("levelled", "dots", levelled)),
        _chart("Light of the scene, stops", across,
               ("measured course", "line", [each.light for each in levels])),
        _chart("Exposure value of the settings", across,
               ("settings", "steps", [each.settings for each in levels])),
        _chart("White, mired", across,
               ("as shot", "hollow", [_mired(each.as_shot) for each in levels]),
               ("levelled", "dots", [_mired(each.kelvin) for each in levels])),
    ]  # fmt: skip
    return page("course.html", name=title, levels=levels, charts=charts, width=WIDTH, height=HEIGHT)


def _mired(kelvin):
    return None if kelvin is None else float(kelvin_to_mired(kelvin))


def _chart(title, across, *lines):
    known = [value for *_, values in lines for value in values if value is not None]
    low, high = (min(known), max(known)) if known else (0.0, 1.0)
    step = _step(high - low)
    bottom, top = step * floor(low / step), step * max(ceil(high / step), floor(low / step) + 1)

    def height(value):
        return HEIGHT * (top - value) / (top - bottom)

    count = round((top - bottom) / step)
    ticks = [(f"{bottom + n * step:g}", height(bottom + n * step)) for n in range(count + 1)]
    placed = []
    for name, kind, values in lines:
        there = [(x, v) for x, v in zip(across, values, strict=True) if v is not None]
        placed.append(Line(name, kind, [(x, height(v)) for x, v in there]))
    return Chart(title, placed, ticks)


def _step(span):
    """A round step that divides a span into five or so.

    >>> _step(7.2), _step(0.9), _step(160)
    (2.0, 0.2, 50.0)
    """
    size = 10.0 ** floor(log10(max(span, 0.1) / 5))
    return next(n * size for n in (1.0, 2.0, 5.0, 10.0) if n * size >= max(span, 0.1) / 5)
