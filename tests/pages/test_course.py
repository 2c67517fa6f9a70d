"""The page of an evening's light draws what was measured, where it was measured."""

import re
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from grading.evening.captured import Captured
from grading.evening.level.corrections import Levelled
from grading.frame import Capture
from grading.pages.course import course_page, round_times


def levelled(name, minute, recorded, stops, kelvin, *remarks, settings=9.0):
    capture = Capture(time=f"2026-04-18T19:{minute:02}:00")
    frame = Captured(Path(f"{name}.dng"), name, minute, capture)
    return Levelled(frame, recorded, settings, -recorded, stops, kelvin, kelvin, 0.001, 3, remarks,
                    None)  # fmt: skip


@pytest.fixture
def text():
    return course_page("<Sea>", [
        levelled("a", 0, -3.0, 1.0, 5000.0),
        levelled("b&", 10, -1.0, -1.0, None, "no light <here>", settings=None),
        levelled("c", 40, -2.0, 0.0, 8000.0),
    ]).decode()  # fmt: skip


def places(text, kind):
    (group,) = re.findall(rf'<g class="{kind}">(.*?)</g>', text)[:1]
    return [tuple(map(float, each)) for each in re.findall(r'cx="([\d.-]+)" cy="([\d.-]+)"', group)]


def test_marks_stand_at_their_time_and_value(text):
    """In 180 units from -1 (top) to -3: recorded -3, -1, -2; levelled -2, -2, -2."""
    assert places(text, "hollow") == [(0, 180), (250, 0), (1000, 90)]
    assert places(text, "dots") == [(0, 90), (250, 90), (1000, 90)]


def test_what_is_not_known_has_no_mark(text):
    assert len(re.findall("<circle", text)) == 3 + 3 + 2 + 2
    assert len(re.findall("<polyline", text)) == 2
    assert re.findall('class="clock">(.*?)<', text)[:5] == [
        "19:00", "19:10", "19:20", "19:30", "19:40",
    ]  # fmt: skip


def test_names_and_remarks_are_text(text):
    assert "&lt;Sea&gt;" in text and "b&amp;" in text and "no light &lt;here&gt;" in text
    assert "<Sea>" not in text and "None" not in text


def test_one_frame_alone_is_drawn_too():
    assert b"<circle" in course_page("one", [levelled("a", 0, -3.0, 0.0, 5000.0)])


def test_each_camera_has_a_line_of_its_own():
    levels = [levelled(name, 10 * n, -3.0, 0.0, 5000.0) for n, name in enumerate("abcd")]
    for each in levels[1::2]:
        object.__setattr__(each.captured.capture, "model", "Second")
    text = course_page("two", levels).decode()
    lines = re.findall(r'<polyline class="(\w+)" points="(.*?)"', text)
    assert [(kind, len(points.split())) for kind, points in lines] == [
        ("line", 2), ("dashed", 2), ("line", 2), ("dashed", 2),
    ]  # fmt: skip
    assert "measured course, Second" in text


@pytest.mark.parametrize(
    ("minutes", "count", "step"),
    [(0, 1, 0), (1, 2, 1), (61, 5, 15), (2000, 6, 360), (9000, 4, 2880)],
)
def test_the_clock_has_round_times(minutes, count, step):
    first = datetime(2026, 4, 18)
    found = round_times(first, first + timedelta(minutes=minutes))
    assert len(found) == count
    assert {(b - a).total_seconds() / 60 for a, b in pairwise(found)} <= {step}
