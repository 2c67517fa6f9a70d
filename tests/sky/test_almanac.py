"""An evening's almanac against published times, and what it says in words."""

import json
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from click.testing import CliRunner

from grading import cli
from grading.sky.almanac import almanac, exposure_value
from grading.sky.sun import SET, Place, elevation
from grading.sky.words import CAUTIONS, in_words, rule_of_thumb

GOLDEN_COLORADO = Place(39.742476, -105.1786)
MOUNTAIN = timezone(timedelta(hours=-7))
TROMSO = Place(69.65, 18.96)


def test_sunset_and_sunrise_of_the_solar_position_algorithm():
    """Reda and Andreas, NREL/TP-560-34302, table A5.1: sunset 17:20:19 (of the UT day), sunrise
    6:12:43."""
    found = almanac(GOLDEN_COLORADO, date(2003, 10, 16), MOUNTAIN)
    for moment, published in (
        (found.sunset, datetime(2003, 10, 16, 17, 20, 19, tzinfo=MOUNTAIN)),
        (found.sunrise, datetime(2003, 10, 17, 6, 12, 43, tzinfo=MOUNTAIN)),
    ):
        assert abs((moment - published).total_seconds()) < 20


@pytest.mark.parametrize(
    ("height", "value"), [(0, 8.25), (-2, 6.24), (-4, 3.58), (-6, 0.45), (-8, -2.84)]
)
def test_light_by_the_height_of_the_sun(height, value):
    """USNO Circular 171; computed from its coefficients, from memory."""
    assert exposure_value(height) == pytest.approx(value, abs=0.01)


@pytest.mark.parametrize("knot", [5.0, -0.8, -5.0, -12.0])
def test_light_has_no_steps(knot):
    assert exposure_value(knot + 1e-6) == pytest.approx(exposure_value(knot - 1e-6), abs=0.03)


def test_every_moment_is_at_its_height():
    found = almanac(Place(52.0, 4.5), date(2026, 3, 20), UTC)
    moments = {
        6.0: found.golden.begins, -4.0: found.golden.ends, SET: found.sunset,
        -6.0: found.blue.ends, -12.0: found.twilights["nautical"],
        -18.0: found.twilights["astronomical"],
    }  # fmt: skip
    for height, moment in moments.items():
        assert elevation(moment, Place(52.0, 4.5)) == pytest.approx(height, abs=0.01)
    assert found.golden.begins < found.sunset < found.blue.begins < found.blue.ends
    assert found.golden.ends == found.blue.begins
    assert found.blue.ends == found.twilights["civil"]


def test_light_falls_by_a_quarter_stop_a_minute_at_most_at_52_degrees():
    found = almanac(Place(52.0, 4.5), date(2026, 3, 20), UTC)
    falls = [fall for moment, _, fall in found.light if moment > found.sunset]
    assert 0.2 < max(falls) < 0.3
    assert 30 < (found.blue.ends - found.sunset).total_seconds() / 60 < 38


def test_the_moon_is_full_and_new():
    """Full on 24 November 2026, 14:53 UT; new on 9 November 2026, 7:02 UT; from memory."""
    assert almanac(TROMSO, date(2026, 11, 24), UTC).moon.lit > 0.98
    assert almanac(TROMSO, date(2026, 11, 9), UTC).moon.lit < 0.02
    assert almanac(TROMSO, date(2026, 11, 17), UTC).moon.waxing
    assert not almanac(TROMSO, date(2026, 12, 1), UTC).moon.waxing


@pytest.mark.parametrize(
    ("day", "said"),
    [(date(2026, 6, 21), "the sun stays up"), (date(2026, 12, 21), "the sun stays down")],
)
def test_where_the_sun_does_not_set_or_rise(day, said):
    found = almanac(TROMSO, day, UTC)
    assert found.sunset is None and found.sunrise is None
    assert sum(said in line for line in in_words(found, None, None)) == 2


def test_a_rule_of_thumb_is_marked_as_one():
    for forecast in ((50, 10), (90, 10), (50, 80), (None, 80), (90, None)):
        assert "rule of thumb, common practice, no source" in rule_of_thumb(*forecast)
    assert "likely" in rule_of_thumb(50, 10) and "less likely" not in rule_of_thumb(50, 10)
    assert "humidity of 90 % and a chance of rain of 80 %" in rule_of_thumb(90, 80)


def run(*arguments):
    return CliRunner().invoke(cli.main, ["evening", *arguments])


def test_the_verb_tells_and_prints_the_same_as_data():
    asked = ("--at", "60.39,5.32", "--date", "2026-11-28", "--zone", "Europe/Oslo")
    told = run(*asked, "--humidity", "60")
    assert told.exit_code == 0, told.output
    assert "sunset                      15:42" in told.output
    assert all(caution in told.output for caution in CAUTIONS)
    data = json.loads(run(*asked, "--json").output)
    assert data["sunset"].startswith("2026-11-28T15:42") and data["sunset"].endswith("+01:00")
    assert data["blue_hour"]["minutes"] == pytest.approx(20, abs=0.5)
    assert data["sky"] is None and data["light"][0]["time"] == data["golden_hour"]["begins"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--at", "60"), "two numbers are needed"),
        (("--at", "60,200"), "-180 to 180 degrees"),
        (("--at", "nan,0"), "-90 to 90"),
        (("--at", "1,1", "--zone", "Atlantis"), "no zone"),
        (("--at", "1,1", "--zone", "../../etc/passwd"), "no zone"),
        (("--at", "1,1", "--date", "9999-12-31"), "1900 to 2100"),
        (("--at", "1,1", "--humidity", "120"), "0<=x<=100"),
    ],
)
def test_what_cannot_be_is_refused(arguments, said):
    told = run(*arguments)
    assert told.exit_code == 2 and said in told.output


@pytest.mark.parametrize("latitude", [-90, -66.6, 0, 66.6, 90])
def test_every_latitude_gets_an_answer(latitude):
    for month in range(1, 13):
        assert in_words(almanac(Place(latitude, 0), date(2026, month, 21), UTC), None, None)
