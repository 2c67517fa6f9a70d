"""Levels as a table for the terminal: what was recorded, the light, and what is done about it."""

from __future__ import annotations

from collections.abc import Sequence

from grading.evening.level.corrections import Levelled

WIDE = 32
"""Characters of the drawn course."""

_HEAD = "frame  time  EV  light  correction  white, as shot and used".split("  ")


def table(levels: Sequence[Levelled]) -> list[str]:
    """Lines of the table, its head first: stops, kelvin, and the course drawn beside.

    ``o`` is what the frame recorded, ``*`` what it is brought to, both in stops.
    """
    rows = [_HEAD, *(_row(each) for each in levels)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(_HEAD))]
    low, high = _range(levels)
    drawn = [f"{low:<+{WIDE - 5}.1f}{high:>+5.1f}", *(_drawn(each, low, high) for each in levels)]
    lines = [
        "  ".join([row[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(row[1:], widths[1:],
                                                                         strict=True)), line])
        for row, line in zip(rows, drawn, strict=True)
    ]  # fmt: skip
    return lines + [f"{each.captured.name}: {note}" for each in levels for note in each.remarks]


def _row(each):
    settings = "-" if each.settings is None else f"{each.settings:.1f}"
    return [
        each.captured.name,
        f"{each.captured.time:%H:%M:%S}",
        settings,
        f"{each.light:+.2f}",
        f"{each.stops:+.2f}",
        "-" if each.kelvin is None else f"{each.as_shot:.0f} {each.kelvin:.0f} K",
    ]


def _range(levels):
    ends = [value for each in levels for value in (each.recorded, each.recorded + each.stops)]
    return min(ends), max(max(ends), min(ends) + 1)


def _drawn(each, low, high):
    line = [" "] * WIDE
    for mark, value in (("o", each.recorded), ("*", each.recorded + each.stops)):
        line[round((value - low) / (high - low) * (WIDE - 1))] = mark
    return "".join(line).rstrip()
