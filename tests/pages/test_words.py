"""Facts and figures in words."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, two_matrix_camera
from grading.engine.resolve import resolve
from grading.frame import Capture
from grading.pages import words


@pytest.mark.parametrize(
    ("share", "text"),
    [(0, "0 %"), (1, "100 %"), (1e-6, "< 0.01 %"), (0.01234, "1.23 %"), (0.5, "50.0 %")],
)
def test_percent(share, text):
    assert words.percent(share) == text


@pytest.mark.parametrize(
    ("value", "text"), [(0.25, "+0.2"), (-0.31, "-0.3"), (0.0, "0.0"), (-0.01, "0.0")]
)
def test_signed(value, text):
    assert words.signed(value, 1) == text


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(1 / 250, "1/250 s"), (1 / 4, "1/4 s"), (0.5, "0.5 s"), (2.5, "2.5 s"), (30, "30 s")],
)
def test_shutter(seconds, text):
    assert words.shutter(seconds) == text


def test_capture_reports_what_is_known_and_no_more():
    facts = Capture(time="2031-09-14T19:00:08+01:00", shutter=0.01, iso=100.0, focal_length=35.0)
    said = [text.replace(words.NO_BREAK, " ") for text in words.capture(facts)]
    assert said == ["2031-09-14 19:00:08", "1/100 s", "ISO 100", "35 mm"]
    assert words.capture(Capture()) == []


def test_clipping_is_reported_from_half_a_per_cent():
    clipping = {
        "black": {"red": 0.004, "green": 0.0, "blue": 0.0},
        "white": {"red": 0.02, "green": 0.03, "blue": 0.0},
        "outside": 0.006,
    }
    assert words.clipping_warnings(clipping) == [
        "3.00 % of green at white",
        "0.60 % too vivid for sRGB, made less vivid",
    ]


def test_the_illuminant_of_a_resolved_recipe():
    stated = recipe(white_balance={"kelvin": 5210.0, "duv": 0.0031})
    planes = np.ones((3, 2, 2))
    assert words.illuminant(resolve(stated, frame(planes))) == "5210 K, Duv +0.0031"
    green = two_matrix_camera((0.001, 1.0, 0.001))
    found = words.illuminant(resolve(recipe(), frame(planes, green)))
    assert found == "as shot, without a colour temperature"
