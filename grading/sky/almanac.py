"""An evening by the almanac: when the sun sets, how long the light lasts, and how it falls.

The light is the illuminance of a level ground under a clear sky by the sun alone (P. M. Janiczek
and J. A. DeYoung, USNO Circular 171, 1987; coefficients from memory), in stops as EV100 of an
incident reading: E = 2.5 * 2**EV lux (ISO 2720, C = 250). Clouds take one to three stops of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo

from grading.sky.sun import SET, Place, elevation

STEP = timedelta(minutes=10)
"""In which the height of the sun is looked at before a moment is closed in on."""

GOLDEN, BLUE = (6.0, -4.0), (-4.0, -6.0)
"""Elevations between which the trade speaks of golden and of blue hour; common practice, no
source."""

TWILIGHTS = {"civil": -6.0, "nautical": -12.0, "astronomical": -18.0}
"""Elevation of the sun's centre where each ends (USNO)."""

_ILLUMINANCE = (
    (5.0, (3.05, 13.28, -45.98, 64.33)),
    (-0.8, (2.88, 22.26, -207.64, 1034.30)),
    (-5.0, (2.88, 21.81, -258.11, -858.36)),
    (-12.0, (2.70, 12.17, -431.69, -1899.83)),
    (-18.0, (13.84, 262.72, 1447.42, 2797.93)),
)
"""From which elevation upwards, and the terms of log10 lux in elevation / 90 degrees."""

LUX_AT_0 = 2.5
"""Lux of EV100 0, for an incident reading (ISO 2720, C = 250)."""


@dataclass(frozen=True)
class Stretch:
    """A time between two moments; either is None where it lies beyond the night."""

    begins: datetime | None
    ends: datetime | None

    @property
    def minutes(self) -> float | None:
        """How long it is; None where an end is not known."""
        if self.begins is None or self.ends is None:
            return None
        return (self.ends - self.begins).total_seconds() / 60


@dataclass(frozen=True)
class Moon:
    """The moon of a night.

    Attributes
    ----------
    lit : float
        Share of its disc, 0..1, within some hundredths.
    waxing : bool
    rises, sets : datetime or None
        From noon to noon.
    """

    lit: float
    waxing: bool
    rises: datetime | None
    sets: datetime | None


@dataclass(frozen=True)
class Almanac:
    """The night that follows a day, from noon to noon.

    Attributes
    ----------
    sunset, sunrise : datetime or None
        None where the sun does not set, or does not rise.
    stays_down : bool
        Whether the sun does not rise in all the day.
    golden, blue : Stretch
        Of the evening.
    twilights : dict of str to datetime or None
        When civil, nautical and astronomical twilight end.
    moon : Moon
    light : list of (datetime, float, float)
        From the golden hour to the end of nautical twilight, every five minutes: the time, EV100
        of an incident reading, and by how many stops it falls a minute.
    """

    sunset: datetime | None
    sunrise: datetime | None
    stays_down: bool
    golden: Stretch
    blue: Stretch
    twilights: dict[str, datetime | None]
    moon: Moon
    light: list[tuple[datetime, float, float]]


def illuminance(elevation: float) -> float:
    """Lux on level ground under a clear sky with the sun at an elevation, -18 to 20 degrees.

    >>> [round(math.log2(illuminance(h) / LUX_AT_0), 2) for h in (0, -2, -4, -6, -8)]
    [8.25, 6.24, 3.58, 0.45, -2.84]
    """
    height = min(max(elevation, -18.0), 20.0)
    terms = next((terms for least, terms in _ILLUMINANCE if height >= least))
    x = height / 90
    return 10 ** sum(term * x**power for power, term in enumerate(terms))


def exposure_value(elevation: float) -> float:
    """EV100 of an incident reading at an elevation of the sun in degrees.

    >>> round(exposure_value(0.0), 2)
    8.25
    """
    return math.log2(illuminance(elevation) / LUX_AT_0)


def almanac(place: Place, day: date, zone: tzinfo) -> Almanac:
    """The evening of a day and the night after it.

    Parameters
    ----------
    place : Place
    day : date
    zone : tzinfo
        Of the times that are given.
    """
    noon = datetime.combine(day, time(12), zone)
    noon -= timedelta(hours=place.longitude / 15) - _offset(noon)  # noon by the sun, nearly
    falling = {
        height: next(_crossings(noon, place, height, falls=True), None)
        for height in {*GOLDEN, *BLUE, SET, *TWILIGHTS.values()}
    }
    golden = Stretch(falling[GOLDEN[0]], falling[GOLDEN[1]])
    twilights = {name: falling[height] for name, height in TWILIGHTS.items()}
    return Almanac(
        sunset=falling[SET],
        sunrise=next(_crossings(noon, place, SET, falls=False), None),
        stays_down=elevation(noon, place) < SET,
        golden=golden,
        blue=Stretch(falling[BLUE[0]], falling[BLUE[1]]),
        twilights=twilights,
        moon=_moon(noon, place),
        light=list(_light(golden.begins, twilights["nautical"] or twilights["civil"], place)),
    )


def _offset(moment):
    return moment.utcoffset() or timedelta()


def _crossings(noon, place, height, falls) -> Iterator[datetime]:
    """Moments of a day from noon at which the sun comes down to a height, or up to it."""
    moments = [noon + n * STEP for n in range(int(timedelta(days=1) / STEP) + 1)]
    above = [elevation(each, place) >= height for each in moments]
    for n, (before, after) in enumerate(zip(above, above[1:], strict=False)):
        if (before, after) == (falls, not falls):
            yield _closed_in(moments[n], place, height, falls)


def _closed_in(moment, place, height, falls):
    step = STEP
    while step > timedelta(seconds=0.5):
        step /= 2
        if (elevation(moment + step, place) >= height) == falls:
            moment += step
    return moment + step / 2


def _light(start, end, place):
    if start is None or end is None:
        return
    moment, minute = start, timedelta(minutes=1)
    while moment <= end:
        here = exposure_value(elevation(moment, place))
        yield moment, here, here - exposure_value(elevation(moment + minute, place))
        moment += timedelta(minutes=5)


def _moon(noon, place):
    from astral import Observer, moon

    observer, day = Observer(place.latitude, place.longitude), noon.date()

    def first(of):
        for date_ in (day - timedelta(days=1), day, day + timedelta(days=1)):
            try:
                found = of(observer, date_, noon.tzinfo)
            except ValueError:
                continue
            if found and noon <= found <= noon + timedelta(days=1):
                return found
        return None

    age = moon.phase(day) / 28  # of astral: 0 is new, 14 full
    lit = (1 - math.cos(2 * math.pi * age)) / 2
    return Moon(lit, age < 0.5, first(moon.moonrise), first(moon.moonset))
