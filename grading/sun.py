"""Where the sun stands, and what the trade and the almanacs call the light.

Positions are astral's (within 0.005 degrees of the NREL solar position algorithm: Reda and Andreas,
Solar Energy 76:577, 2004). The twilights are those of the almanacs: the centre of the sun 6, 12 and
18 degrees below the horizon, without refraction; it sets at -0.833 degrees (USNO). Golden and blue
hour have no standard: +6 to -4 and -4 to -6 degrees, common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

SET = -0.8333
"""Elevation of the sun's centre when its upper edge meets a level horizon (34' and 16')."""

PHASES = (
    (6.0, "day"),
    (SET, "golden hour"),
    (-4.0, "golden hour, sun below the horizon"),
    (-6.0, "blue hour"),
    (-12.0, "nautical twilight"),
    (-18.0, "astronomical twilight"),
    (-90.0, "night"),
)
"""Elevation from which on upwards, and what the light is called; civil twilight is from -0.8333 to
-6 degrees."""


@dataclass(frozen=True)
class Place:
    """Latitude and longitude in degrees, north and east positive."""

    latitude: float
    longitude: float


@dataclass(frozen=True)
class Sun:
    """Where the sun is at a moment.

    Attributes
    ----------
    elevation : float
        Of its centre, degrees, without refraction.
    azimuth : float
        Degrees from north by east.
    phase : str
        One of `PHASES`.
    civil : bool
        Whether it is civil twilight.
    minutes_to_set : float or None
        To the nearest sunset in 12 hours, before it positive; None where there is none.
    """

    elevation: float
    azimuth: float
    phase: str
    civil: bool
    minutes_to_set: float | None


def elevation(time: datetime, place: Place) -> float:
    """Elevation of the sun's centre in degrees, without refraction.

    Parameters
    ----------
    time : datetime
        With its zone.
    place : Place

    Examples
    --------
    >>> from datetime import timezone
    >>> when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    >>> round(elevation(when, Place(39.742476, -105.1786)), 1)
    39.9
    """
    from astral import Observer, sun

    return sun.elevation(Observer(place.latitude, place.longitude), time, with_refraction=False)


def azimuth(time: datetime, place: Place) -> float:
    """Azimuth of the sun in degrees from north by east, at a time with its zone.

    >>> from datetime import timezone
    >>> when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7)))
    >>> round(azimuth(when, Place(39.742476, -105.1786)), 1)
    194.3
    """
    from astral import Observer, sun

    return sun.azimuth(Observer(place.latitude, place.longitude), time)


def phase(elevation: float) -> str:
    """What the light is called with the sun at an elevation in degrees.

    >>> phase(2.0), phase(-5.0), phase(-13.0)
    ('golden hour', 'blue hour', 'astronomical twilight')
    """
    return next(name for least, name in PHASES if elevation >= least)


def sun_at(time: datetime, place: Place) -> Sun:
    """Where the sun is at a time with its zone."""
    height = elevation(time, place)
    return Sun(
        height,
        azimuth(time, place),
        phase(height),
        -6 <= height < SET,
        _minutes_to_set(time, place),
    )


def _minutes_to_set(time, place):
    """Minutes to the sunset that is nearest to a time."""
    step = timedelta(minutes=15)
    around = [time + n * step for n in range(-48, 49)]
    heights = [elevation(each, place) for each in around]
    falls = [n for n in range(len(around) - 1) if heights[n] >= SET > heights[n + 1]]
    if not falls:
        return None
    minutes = [_crossing(around[n], step, place) for n in falls]
    return min(((each - time).total_seconds() / 60 for each in minutes), key=abs)


def _crossing(start, step, place):
    """The moment within a step at which the sun sets, to a second or so."""
    while step > timedelta(seconds=1):
        step /= 2
        if elevation(start + step, place) >= SET:
            start += step
    return start + step / 2
