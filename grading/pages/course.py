"""The page of an evening's light: what was recorded, what the light did, and what levels it."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from math import ceil, floor, log10
from typing import NamedTuple

from grading.colour.white import kelvin_to_mired
from grading.evening.level.corrections import Levelled
from grading.pages.html import page

WIDTH, HEIGHT = 1000.0, 180.0
"""Of a chart, in its own units."""


_MINUTES = (1, 2, 5, 10, 15, 30, 60, 120, 180, 360, 720)


class Line(NamedTuple):
    """A quantity over the evening: its name, its marks, and the frame and place of each."""

    name: str
    kind: str
    points: list[tuple[str, float, float]]


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
    times = [each.captured.time for each in levels]
    frames = [(each.captured.name, _across(each.captured.time, times)) for each in levels]
    recorded = [each.recorded for each in levels]
    levelled = [each.recorded + each.stops for each in levels]
    charts = [
        _chart("Middle of the frame, stops from white", frames,
               ("as recorded", "hollow", recorded), ("levelled", "dots", levelled)),
        _chart("Light of the scene, stops", frames,
               *_by_camera("measured course", levels, [each.light for each in levels])),
        _chart("Exposure value of the settings", frames,
               *_by_camera("settings", levels, [each.settings for each in levels])),
        _chart("White, mired", frames,
               ("as shot", "hollow", [_mired(each.as_shot) for each in levels]),
               ("levelled", "dots", [_mired(each.kelvin) for each in levels])),
    ]  # fmt: skip
    clock = [(f"{time:%H:%M}", _across(time, times)) for time in round_times(times[0], times[-1])]
    return page(
        "course.html", name=title, levels=levels, charts=charts, clock=clock, width=WIDTH,
        height=HEIGHT,
    )  # fmt: skip


def _by_camera(name, levels, values):
    """A line for each camera; None where a frame is another's."""
    models = [each.captured.capture.model for each in levels]
    cameras = list(dict.fromkeys(models))
    return [
        (
            name if len(cameras) == 1 else f"{name}, {model or 'another camera'}",
            "dashed" if number else "line",
            [v if own == model else None for v, own in zip(values, models, strict=True)],
        )
        for number, model in enumerate(cameras)
    ]


def _across(time, times):
    """Where a time stands in a chart from the first to the last of some."""
    whole = max((times[-1] - times[0]).total_seconds(), 1)
    return WIDTH * (time - times[0]).total_seconds() / whole


def round_times(first: datetime, last: datetime) -> list[datetime]:
    """Round times of the clock from the first to the last, seven at most.

    >>> found = round_times(datetime(2026, 4, 18, 18, 42), datetime(2026, 4, 18, 19, 32))
    >>> [f"{time:%H:%M}" for time in found]
    ['18:50', '19:00', '19:10', '19:20', '19:30']
    """
    minutes = (last - first).total_seconds() / 60
    days = 1440 * ceil(minutes / (6 * 1440))
    step = next((each for each in _MINUTES if minutes <= 6 * each), max(days, 1440))
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0)
    start = ceil((first - midnight).total_seconds() / 60 / step)
    end = floor((last - midnight).total_seconds() / 60 / step)
    return [midnight + timedelta(minutes=n * step) for n in range(start, end + 1)]


def _mired(kelvin):
    return None if kelvin is None else float(kelvin_to_mired(kelvin))


def _chart(title, frames, *lines):
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
        there = [(*f, height(v)) for f, v in zip(frames, values, strict=True) if v is not None]
        placed.append(Line(name, kind, there))
    return Chart(title, placed, ticks)


def _step(span):
    """A round step that divides a span into five or so.

    >>> _step(7.2), _step(0.9), _step(160)
    (2.0, 0.2, 50.0)
    """
    size = 10.0 ** floor(log10(max(span, 0.1) / 5))
    return next(n * size for n in (1.0, 2.0, 5.0, 10.0) if n * size >= max(span, 0.1) / 5)
