"""The verb that tells what an evening's light will be."""

import json
from datetime import UTC, date, datetime, tzinfo

import click

from grading.cli.group import Number, main
from grading.terminal import say, say_document

FIRST, LAST = 1900, 2100
"""Years in which the places of sun and moon are good to the minute."""


class PlaceType(click.ParamType):
    """Latitude and longitude in degrees, such as 60.39,5.32."""

    name = "LAT,LON"

    def convert(self, value, param, ctx):
        """A `grading.sky.sun.Place`."""
        from grading.sky.sun import Place

        try:
            latitude, longitude = map(float, value.split(","))
        except ValueError:
            self.fail(f"{value!r}: two numbers are needed, such as 60.39,5.32", param, ctx)
        if not (abs(latitude) <= 90 and abs(longitude) <= 180):
            self.fail(f"{value!r}: allowed: -90 to 90 and -180 to 180 degrees", param, ctx)
        return Place(latitude, longitude)


class Zone(click.ParamType):
    """A time zone: a name such as Europe/Oslo, or an offset such as +02:00."""

    name = "ZONE"

    def convert(self, value, param, ctx):
        """A tzinfo."""
        from zoneinfo import ZoneInfo

        if isinstance(value, tzinfo):
            return value
        try:
            if value[:1] in "+-":
                return datetime.strptime(value, "%z").tzinfo
            return ZoneInfo(value)
        except (ValueError, OSError, KeyError):
            self.fail(f"{value!r}: no zone; allowed: such as Europe/Oslo or +02:00", param, ctx)


at_option = click.option(
    "--at", "place", type=PlaceType(), metavar="LAT,LON", required=True,
    help="Where: degrees, north and east above 0.",
)
zone_option = click.option(
    "--zone", type=Zone(), metavar="ZONE", default=UTC,
    help="Of the times: a name such as Europe/Oslo, or an offset such as +02:00 [UTC].",
)


@main.command()
@at_option
@click.option("--date", "day", type=click.DateTime(["%Y-%m-%d"]), metavar="YYYY-MM-DD",
              help="The day whose evening it is [today].")
@zone_option
@click.option("--humidity", type=Number(0, 100), metavar="PERCENT",
              help="Relative humidity that is forecast.")
@click.option("--rain", type=Number(0, 100), metavar="PERCENT",
              help="Chance of rain that is forecast.")
@click.option("--json", "as_json", is_flag=True, help="Print all times and numbers as JSON.")
def evening(
    place,
    day: datetime | None,
    zone: tzinfo,
    humidity: float | None,
    rain: float | None,
    as_json: bool,
) -> None:
    """Tell what an evening's light will be: sunset, golden and blue hour, twilight, the moon.

    Says too how fast the light falls, and so how soon the exposure is to be set again; with
    --humidity and --rain, what the trade's rule of thumb makes of the sky.
    """
    from grading.sky.almanac import almanac
    from grading.sky.words import as_plain, in_words

    when: date = day.date() if day else datetime.now(zone).date()
    if not FIRST <= when.year <= LAST:
        raise click.BadParameter(f"allowed: {FIRST} to {LAST}", param_hint="'--date'")
    found = almanac(place, when, zone)
    if as_json:
        say_document(json.dumps(as_plain(found, humidity, rain), indent=1) + "\n")
    else:
        say(f"Evening of {when:%A %d %B %Y} at {place.latitude:g}, {place.longitude:g}, {zone}")
        say(*in_words(found, humidity, rain))
