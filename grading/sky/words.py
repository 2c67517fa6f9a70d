"""An evening's almanac in words, with what to expect and what to mind."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from grading.sky.almanac import Almanac, Stretch

BE_THERE = timedelta(minutes=60)
"""Before sunset; a choice of ours: the light is soft, and there is time to find a frame."""

WIDTH = 28
"""Of the names of a line."""

DRY, UNLIKELY = 75.0, 30.0
"""Per cent of humidity, and of a chance of rain, below which colour is likelier by the rule."""

CAUTIONS = (
    "Never look at the sun through a finder or a lens, nor point a long lens at it for long.",
    "Near and on the water: mind the footing, the tide and the cold as the light goes, wear a life"
    " jacket afloat, and follow the skipper and the local rules.",
)

_RULE = "rule of thumb, common practice, no source"


def in_words(found: Almanac, humidity: float | None, rain: float | None) -> list[str]:
    """Lines for a person.

    Parameters
    ----------
    found : Almanac
    humidity, rain : float or None
        Per cent, as forecast.
    """
    stays = "the sun stays down" if found.stays_down else "the sun stays up"
    lines = [
        _row("golden hour", _stretch_in_words(found.golden)),
        _row("sunset", _at(found.sunset, stays)),
        _row("blue hour", _stretch_in_words(found.blue)),
        *(
            _row(f"{name} twilight ends", _at(moment, "it does not get as dark"))
            for name, moment in found.twilights.items()
        ),
        _row("sunrise", _at(found.sunrise, stays)),
        _row("moon", _moon(found)),
        *_light(found),
        *([f"Sky: {rule_of_thumb(humidity, rain)}"] if (humidity, rain) != (None, None) else []),
        *CAUTIONS,
    ]
    if found.sunset:
        lines.insert(0, _row("be there by", f"{found.sunset - BE_THERE:%H:%M}"))
    return lines


def as_plain(found: Almanac, humidity: float | None, rain: float | None) -> dict[str, Any]:
    """The same as plain data: times by ISO 8601, minutes, stops, shares 0..1."""
    return {
        "evening": 1,
        "start": _iso(found.sunset and found.sunset - BE_THERE),
        "sunset": _iso(found.sunset),
        "sunrise": _iso(found.sunrise),
        "golden_hour": _stretch(found.golden),
        "blue_hour": _stretch(found.blue),
        "twilight_ends": {name: _iso(moment) for name, moment in found.twilights.items()},
        "moon": {
            "lit": round(found.moon.lit, 2),
            "waxing": found.moon.waxing,
            "rises": _iso(found.moon.rises),
            "sets": _iso(found.moon.sets),
        },
        "light": [
            {"time": _iso(moment), "ev100": round(ev, 2), "falls_a_minute": round(fall, 3)}
            for moment, ev, fall in found.light
        ],
        "sky": None if humidity is rain is None else rule_of_thumb(humidity, rain),
        "cautions": list(CAUTIONS),
    }


def rule_of_thumb(humidity: float | None, rain: float | None) -> str:
    """What the trade's rule makes of a forecast, in per cent.

    >>> rule_of_thumb(50, 10).partition(",")[0]
    'colour is likely'
    """
    against = [
        words
        for words, value, limit in (
            (f"humidity of {humidity:g} %" if humidity is not None else "", humidity, DRY),
            (f"a chance of rain of {rain:g} %" if rain is not None else "", rain, UNLIKELY),
        )
        if value is not None and value > limit
    ]
    if against:
        return f"strong colour is less likely with {' and '.join(against)} ({_RULE})"
    return f"colour is likely, more so with some high cloud ({_RULE})"


def _row(name, said):
    return f"  {name:{WIDTH}}{said}"


def _stretch_in_words(stretch):
    if stretch.begins is None and stretch.ends is None:
        return "none"
    minutes = f", {stretch.minutes:.0f} min" if stretch.minutes is not None else ""
    begins, ends = _at(stretch.begins, "before noon"), _at(stretch.ends, "the sun rises again")
    return f"{begins} to {ends}{minutes}"


def _at(moment, otherwise):
    return f"{moment:%H:%M}" if moment else otherwise


def _moon(found):
    moon = found.moon
    said = [f"{100 * moon.lit:.0f} % lit, {'waxing' if moon.waxing else 'waning'}"]
    said += [f"rises {moon.rises:%H:%M}"] if moon.rises else []
    said += [f"sets {moon.sets:%H:%M}"] if moon.sets else []
    return ", ".join(said)


def _light(found):
    """How the light falls, and how soon a third of a stop is gone."""
    fall = [each for each in found.light if found.sunset and each[0] >= found.sunset]
    if len(fall) < 2:
        return []
    fastest = max(fall, key=lambda each: each[2])
    first, last = fall[0], fall[-1]
    minutes = (last[0] - first[0]).total_seconds() / 60
    return [
        f"From {first[0]:%H:%M} to {last[0]:%H:%M} a clear sky loses {first[1] - last[1]:.1f} "
        f"stops in {minutes:.0f} min (EV100 {first[1]:.1f} to {last[1]:.1f}, incident), fastest at "
        f"{fastest[0]:%H:%M}: {fastest[2]:.2f} stop a minute, a third of a stop in "
        f"{1 / 3 / fastest[2]:.1f} min.",
    ]


def _iso(moment: datetime | None) -> str | None:
    return moment and moment.isoformat(timespec="seconds")


def _stretch(stretch: Stretch) -> dict[str, Any]:
    minutes = stretch.minutes
    return {
        "begins": _iso(stretch.begins),
        "ends": _iso(stretch.ends),
        "minutes": None if minutes is None else round(minutes, 1),
    }
