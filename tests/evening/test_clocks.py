"""Cameras whose clocks were wrong: their frames stand where they were taken."""

from datetime import timedelta

import pytest

from grading.errors import RecipeError
from grading.evening.clocks import offset


@pytest.fixture
def two_cameras(card):
    """F1 and F2 of one camera; F3 and F4, twelve minutes later by its own clock, of another."""
    folder = card(4)
    for name in ("F3", "F4"):
        path = folder / f"{name}.dng"
        path.write_bytes(path.read_bytes().replace(b"Camera\0", b"Second\0"))
    return folder


def test_a_clock_that_is_set_right_interleaves_the_sets(two_cameras, shoot):
    assert [frame.name for frame in shoot().frames] == ["F1", "F2", "F3", "F4"]
    frames = shoot("clocks: {Second: -0:09}").frames
    assert [frame.name for frame in frames] == ["F1", "F3", "F2", "F4"]
    assert f"{frames[1].time:%H:%M:%S}" == "19:03:00" and frames[1].moment == frames[1].time
    assert frames[1].capture.time.startswith("2026-04-18T19:12:00")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("clocks: {Secnd: +1:00}", ":5:17: clocks: no frame is of a camera Secnd; allowed: Camera, "
         "Second; did you mean Second?"),
        ("clocks: {Second: '1:00'}", "1:00 is no time to add, such as +1:00 or -0:03:20"),
        ("clocks: {Second: '+1:60'}", "+1:60 is no time to add"),
        ("clocks: {Second: '+2400:00'}", "+2400:00 is no time to add"),
        ("clocks: {Second: 3600}", "clocks.Second = 3600: not text"),
    ],
)  # fmt: skip
def test_clocks_that_say_nothing_possible(two_cameras, shoot, text, words):
    with pytest.raises(RecipeError) as caught:
        shoot(text)
    assert words in str(caught.value)


def test_offsets():
    assert offset("+1:00") == timedelta(hours=1)
    assert offset("-0:00:05") == timedelta(seconds=-5)
