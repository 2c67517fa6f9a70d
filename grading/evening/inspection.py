"""What was found in a set, as lines for a terminal and as plain data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from grading.evening.inspected import Inspected
from grading.inspect.exposure import luminance
from grading.inspect.lean import Lean
from grading.inspect.measure import Measures
from grading.inspect.series import Series
from grading.messages import listed

CHANNELS = ("red", "green", "blue")


def table(frames: Sequence[Inspected]) -> Iterator[str]:
    """Lines of a table: a frame each, what speaks against it, and series."""
    width = max(len("frame"), *(len(frame.captured.name) for frame in frames))
    yield (f"{'frame':{width}}  blur px  clipped %  headroom  SNR  EV100  straighten  sun °  said")
    for frame in frames:
        if frame.measures is None:
            yield f"{frame.captured.name:{width}}  {frame.problem}"
        else:
            yield f"{frame.captured.name:{width}}  {_figures(frame)}  {_said(frame)}".rstrip()
    yield from series_lines(frames)
    if len(frames) == 1 and frames[0].measures and frames[0].measures.lean:
        yield f"as a recipe states it: {straighten_text(frames[0].measures.lean)}"
    yield from notes_once(frames)


def _figures(frame):
    measures, exposure = frame.measures, frame.measures.exposure
    lean = measures.lean
    return "  ".join((
        _number(measures.softness, 7, 1),
        f"{100 * max(exposure.clipped):9.1f}",
        f"{min(exposure.headroom):8.1f}",
        _number(exposure.grey_ratio, 3, 0),
        _number(exposure.ev100, 5, 1),
        _number(lean and lean.straighten, 11, 1),
        _number(frame.sun and frame.sun.elevation, 5, 1),
    ))  # fmt: skip


def _number(value, width, digits):
    return " " * (width - 1) + "-" if value is None else f"{value:{width}.{digits}f}"


def _said(frame):
    return "; ".join(f"{verdict.word}: {verdict.why}" for verdict in frame.verdicts)


def straighten_text(lean: Lean) -> str:
    """A lean as recipes and notes on frames state it.

    >>> straighten_text(Lean(1.42, 0.1, 0.9, 12))
    'framing: {straighten: 1.4}'
    """
    return f"framing: {{straighten: {lean.straighten:.1f}}}"


def all_series(frames: Sequence[Inspected]) -> list[Series]:
    """The series of a set, each once."""
    return list(dict.fromkeys(frame.series for frame in frames if frame.series))


def series_lines(frames: Sequence[Inspected]) -> Iterator[str]:
    """A sentence on each series."""
    names = {frame.captured.number: frame.captured.name for frame in frames}
    for series in all_series(frames):
        members = ", ".join(names[number] for number in series.frames)
        best = f"; the sharpest is {names[series.best]}" if series.best else "; belongs together"
        yield f"{series.kind}: {members}{best}"


def notes_once(frames: Sequence[Inspected]) -> list[str]:
    """Notes of frames, those on the same thing together, and where the sun is not known."""
    of_note: dict[str, list[str]] = {}
    for frame in frames:
        for note in frame.notes:
            of_note.setdefault(note, []).append(frame.captured.name)
    said = [f"{listed(names)}: {note}" for note, names in of_note.items()]
    unknown = sum(frame.sun is None and frame.measures is not None for frame in frames)
    if unknown:
        said.append(
            "where the sun was is not known of frames that state no time, zone or place:"
            f" {unknown}; state --at and --zone"
        )
    return said


def as_document(frames: Sequence[Inspected]) -> dict[str, Any]:
    """All that was found, as plain data with units in the names."""
    names = {frame.captured.number: frame.captured.name for frame in frames}
    return {
        "frames": [_frame(frame) for frame in frames],
        "series": [
            {
                "kind": series.kind,
                "frames": [names[number] for number in series.frames],
                "sharpest": names.get(series.best),
            }
            for series in all_series(frames)
        ],
    }


def _frame(frame):
    found = {"name": frame.captured.name, "path": str(frame.captured.path)}
    if frame.measures is None:
        return found | {"problem": frame.problem}
    sun = frame.sun
    return found | _measured(frame.measures) | {
        "sun": None if sun is None else {
            "elevation_degrees": _rounded(sun.elevation, 2),
            "azimuth_degrees": _rounded(sun.azimuth, 2),
            "phase": sun.phase,
            "civil_twilight": sun.civil,
            "minutes_to_sunset": _rounded(sun.minutes_to_set, 1),
        },
        "verdicts": [verdict._asdict() for verdict in frame.verdicts],
        "notes": frame.notes,
    }  # fmt: skip


def _measured(measures: Measures) -> dict[str, Any]:
    exposure, blur, lean = measures.exposure, measures.blur, measures.lean
    return {
        "time": measures.capture.time,
        "blur_pixels": _rounded(measures.softness, 2),
        "detail_by_zone": [
            None if share != share else _rounded(share, 3) for share in measures.detail
        ],
        "sharpest_place": measures.sharpest and [_rounded(x, 4) for x in measures.sharpest],
        "blurred_by": None if blur is None else {
            "kind": blur.kind,
            "pixels": _rounded(blur.size, 1),
            "angle_degrees": _rounded(blur.angle, 1) if blur.kind == "moved" else None,
            "zones": [blur.zones, blur.of_zones],
        },
        "lean": None if lean is None else {
            "straighten_degrees": _rounded(lean.straighten, 2),
            "deviation_degrees": _rounded(lean.deviation, 2),
            "confidence": _rounded(lean.confidence, 2),
            "sea_horizon": lean.sea,
            "recipe": straighten_text(lean),
        },
        "clipped": _each(exposure.clipped, 5),
        "headroom_stops": _each(exposure.headroom, 2),
        "mean_stops_from_white": _rounded(exposure.middle, 2),
        "black_share": _rounded(exposure.black, 5),
        "floor_stops_from_white": _rounded(exposure.floor, 2),
        "middle_grey_signal_to_noise": _rounded(exposure.grey_ratio, 1),
        "ev100": _rounded(exposure.ev100, 2),
        "settings_luminance_cd_m2":
            None if exposure.ev100 is None else float(f"{luminance(exposure.ev100):.4g}"),
        "scene_luminance_cd_m2":
            None if exposure.luminance is None else float(f"{exposure.luminance:.4g}"),
    }  # fmt: skip


def _rounded(value, digits):
    return None if value is None else round(float(value), digits) + 0.0


def _each(values, digits):
    return {name: _rounded(value, digits) for name, value in zip(CHANNELS, values, strict=True)}
