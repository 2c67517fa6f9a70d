"""From what was measured to recipe keys: the exposure and the white that even a set out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from grading.colour import spaces, white
from grading.colour.far import neutral_to_kelvin_duv
from grading.evening.captured import Captured
from grading.evening.level.beside import Across, Solved, shifts
from grading.evening.level.pairs import Ratio
from grading.evening.level.small import Small
from grading.evening.level.solve import solve_light, solve_white
from grading.evening.model import Level
from grading.frame import Camera
from grading.stages.white_balance import WHITES

LOST_OVER, LOST_UNDER = 0.15, 0.6
"""Shares of a frame, clipped or drowned in noise, from which it is beyond repair."""


@dataclass(frozen=True)
class Levelled:
    """What levelling found of a frame, and what it does about it.

    Attributes
    ----------
    captured : Captured
    recorded : float
        Middle of its green, stops from white.
    settings : float or None
        Exposure value of its settings.
    light : float
        Light of the scene in stops, 0 in the middle of the set.
    stops : float
        Correction of the exposure.
    as_shot, kelvin, duv : float or None
        White that the camera took; the white that is used, and its distance from the Planckian
        locus. None where that is no light with a colour temperature; it is left as it was shot.
    pairs : int
        How many other frames it was compared with.
    remarks : tuple of str
    camera : Camera or None
        By whose matrices the whites are told.
    """

    captured: Captured
    recorded: float
    settings: float | None
    light: float
    stops: float
    as_shot: float | None
    kelvin: float | None
    duv: float | None
    pairs: int
    remarks: tuple[str, ...]
    camera: Camera | None = field(repr=False, compare=False)

    def as_plain(self) -> dict:
        """What it does to the frame, and remarks, as plain values for a report."""
        whites = {"as_shot": self.as_shot, "kelvin": self.kelvin, "duv": self.duv}
        return {"stops": self.stops, **whites, "remarks": list(self.remarks)}


def level_frames(
    cameras: Sequence[tuple[Sequence[Small], Sequence[Ratio]]],
    across: Across,
    level: Level,
    reference: str | None,
) -> list[Levelled]:
    """Levels for the frames of some cameras, so that all look as if one had made them.

    Parameters
    ----------
    cameras : sequence of tuple
        For each camera its frames in order of capture, each with its time, and ratios of pairs of
        them.
    across : mapping
        Ratios of frames of two cameras, by the numbers of both.
    level : Level
        As the shoot file states it.
    reference : str or None
        Name of the frame that stays as it is; if None, or not among these, the middle of all.
    """
    solved = [_solve(*camera) for camera in cameras]
    added = shifts(solved, across)
    frames = [frame for camera in solved for frame in camera.frames]
    index = np.concatenate([camera.index for camera in solved])
    light, recorded = (
        np.concatenate([getattr(c, name) + getattr(shift, name)
                        for c, shift in zip(solved, added, strict=True)])
        for name in ("light", "recorded")
    )  # fmt: skip
    names = [frame.captured.name for frame in frames]
    anchor = names.index(reference) if reference in names else None
    stops = _stops(light, recorded, level, anchor)
    whites = _whites(solved, [shift.white for shift in added], level, anchor)
    shared = np.concatenate([_compared(*camera) for camera in cameras])
    return [
        Levelled(
            frame.captured,
            round(float(index[i]), 3),
            frame.dials,
            round(float(light[i] - np.median(light)), 3),
            round(float(np.clip(stops[i], -level.limit, level.limit)), 4),
            *whites[i],
            int(shared[i]),
            tuple(_remarks(frame, float(stops[i]), level, shared[i])),
            frame.camera,
        )
        for i, frame in enumerate(frames)
    ]


def _solve(frames, ratios):
    """What the frames of one camera tell by themselves."""
    start = frames[0].captured.time
    seconds = np.array([(frame.captured.time - start).total_seconds() for frame in frames])
    index = np.array([_middle(frame) for frame in frames])
    dials = _dials(frames, index)
    light, recorded = solve_light(seconds, dials, index, ratios)
    neutrals = np.log2([frame.neutral for frame in frames])
    red, blue = (
        solve_white(seconds, neutrals[:, channel], ratios, claim)
        for claim, channel in ((1, 0), (2, 2))
    )
    course = [_mired_duv(f, [r, 0, b]) for f, r, b in zip(frames, red, blue, strict=True)]
    as_shot = [_mired_duv(f, n) for f, n in zip(frames, neutrals, strict=True)]
    return Solved(frames, index, dials, light, recorded, np.array(as_shot), np.array(course))


def _compared(frames, ratios):
    """With how many others of its camera each frame was compared."""
    return np.bincount([n for r in ratios for n in (r.first, r.second)], minlength=len(frames))


def _middle(frame):
    green = frame.light[1]
    trusted = green[frame.trusted]
    return np.log2(max(np.median(trusted if trusted.size > 100 else green), 1e-5))


def _dials(frames, index):
    """What the settings let in; of a frame that does not state them, what its middle suggests."""
    stated = np.array([np.nan if frame.dials is None else -frame.dials for frame in frames])
    offset = np.nanmedian(index - stated) if np.isfinite(stated).any() else 0.0
    return np.where(np.isfinite(stated), stated, index - offset)


def _stops(light, recorded, level, anchor):
    wanted = level.keep_fall * light - recorded
    zero = np.median(wanted) if anchor is None else wanted[anchor]
    return level.exposure * (wanted - zero)


def _whites(solved, added, level, anchor):
    """As-shot kelvin, and kelvin and Duv that are used, for each frame."""
    as_shot = np.concatenate([camera.as_shot for camera in solved])
    course = np.concatenate([c.white + shift for c, shift in zip(solved, added, strict=True)])
    if anchor is not None and not np.isfinite(as_shot[anchor] + course[anchor]).all():
        anchor = None
    if anchor is not None:
        course = course + (as_shot - course)[anchor]
    light = _light_of(solved, course)
    kept = np.nanmedian(light, axis=0) if anchor is None else light[anchor]
    wanted = course + level.keep_cooling * (kept - light)
    used = as_shot + level.white * (wanted - as_shot)
    return [_stated(*each) for each in zip(as_shot[:, 0], *used.T, strict=True)]


def _light_of(solved, course):
    """The white of the light in each frame: a picture's is that of raw frames of its time.

    The white of a picture is what is left of a cast, for its camera balanced it already.
    """
    rendered = np.concatenate([np.full(len(c.frames), c.rendered) for c in solved])
    known = ~rendered & np.isfinite(course).all(axis=1)
    if not (rendered.any() and known.any()):
        return course
    minutes = np.concatenate([camera.minutes for camera in solved])
    order = np.flatnonzero(known)[np.argsort(minutes[known], kind="stable")]
    light = course.copy()
    for axis in (0, 1):
        light[rendered, axis] = np.interp(minutes[rendered], minutes[order], course[order, axis])
    return light


def _stated(as_shot, mired, duv):
    """As-shot kelvin, kelvin and Duv as a recipe has them; thrice None where one is not known."""
    if not np.isfinite([as_shot, mired, duv]).all():
        return None, None, None
    shot, kelvin = white.mired_to_kelvin(as_shot), white.mired_to_kelvin(max(mired, 1.0))
    duv = np.clip(duv, -white.DUV_LIMIT, white.DUV_LIMIT)
    return round(float(shot), 1), round(float(np.clip(kelvin, *WHITES)), 1), round(float(duv), 6)


def _mired_duv(frame, neutral):
    """Mired and Duv of the light under which log2 ratios to green are neutral; NaN if none is."""
    rgb = np.exp2(np.asarray(neutral, float))
    if frame.camera is not None:
        found = neutral_to_kelvin_duv(frame.camera, rgb)
        return (np.nan, np.nan) if found is None else (white.kelvin_to_mired(found[0]), found[1])
    xy = spaces.xyz_to_xy(spaces.rgb_to_xyz(spaces.WORKING) @ rgb)
    try:
        kelvin, duv = white.xy_to_kelvin_duv(xy)
    except ValueError:
        return np.nan, np.nan
    return white.kelvin_to_mired(kelvin), duv


def _remarks(frame, stops, level, shared):
    if frame.over > LOST_OVER:
        yield f"over-exposed beyond repair: {100 * frame.over:.0f} % is clipped"
    if frame.under > LOST_UNDER:
        yield f"under-exposed beyond repair: {100 * frame.under:.0f} % is lost in noise"
    if abs(stops) > level.limit:
        yield f"would need {stops:+.2f} stops, corrected by the limit"
    if frame.dials is None:
        yield "does not state its settings"
    if not shared:
        yield "shares no places with its neighbours: levelled by its settings alone"
