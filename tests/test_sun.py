"""The sun against published values."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from grading.sky.sun import Place, azimuth, elevation, phase, sun_at

GOLDEN = Place(39.742476, -105.1786)
MOUNTAIN = timezone(timedelta(hours=-7))
WHEN = datetime(2003, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN)


def test_the_worked_example_of_the_solar_position_algorithm():
    """NREL/TP-560-34302: zenith 50.11162 with refraction of .0162 degrees, azimuth 194.34024."""
    assert elevation(WHEN, GOLDEN) == pytest.approx(90 - 50.11162 - 0.0162, abs=0.02)
    assert azimuth(WHEN, GOLDEN) == pytest.approx(194.34024, abs=0.02)


def test_sunset_is_told_in_minutes_before_and_after():
    """The same report: sunset on 16 October 2003 at 17:20:19 local time."""
    before = datetime(2003, 10, 16, 16, 50, 19, tzinfo=MOUNTAIN)
    assert sun_at(before, GOLDEN).minutes_to_set == pytest.approx(30, abs=0.5)
    after = before + timedelta(minutes=50)
    assert sun_at(after, GOLDEN).minutes_to_set == pytest.approx(-20, abs=0.5)


def test_where_the_sun_does_not_set_there_are_no_minutes():
    june = datetime(2026, 6, 21, 12, tzinfo=UTC)
    assert sun_at(june, Place(75, 20)).minutes_to_set is None


@pytest.mark.parametrize(
    "height, name",
    [
        (30, "day"),
        (6.1, "day"),
        (5.9, "golden hour"),
        (-0.8, "golden hour"),
        (-1, "golden hour, sun below the horizon"),
        (-4.5, "blue hour"),
        (-7, "nautical twilight"),
        (-17.9, "astronomical twilight"),
        (-18.1, "night"),
    ],
)
def test_phases_begin_where_almanacs_and_the_trade_have_them(height, name):
    assert phase(height) == name


def test_civil_twilight_is_from_sunset_to_six_degrees():
    dusk = datetime(2003, 10, 16, 17, 35, tzinfo=MOUNTAIN)
    assert sun_at(dusk, GOLDEN).civil
    assert not sun_at(WHEN, GOLDEN).civil
