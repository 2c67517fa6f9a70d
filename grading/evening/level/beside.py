"""Cameras side by side: what sets the courses of each on one light and one exposure.

What a camera records is the light, its settings, and a constant of its own: how honest its ISO
speed is (ISO 12232 allows several methods, which differ by some tenths of a stop). A camera alone
tells neither its constant nor the zero of its course, but for the middle of what it looked at. For
several, four things are known, each to within its own error: frames of both that share places tell
the difference at once; light at one time is one light; the settings tell most of the rest; and what
is photographed is grey on average. They are brought together by least squares.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import combinations
from typing import NamedTuple

import numpy as np

from grading.colour import spaces, white
from grading.evening.level.pairs import Ratio
from grading.evening.level.robust import middle
from grading.evening.level.small import Small

HONEST, PICTURE, UNSTATED = 0.2, 0.7, 5.0
"""Stops by which a camera's constant errs: of a raw, of a picture with a tone curve, and where
settings are not stated; ours."""

CONTENT = 0.35
"""Stops by which what one camera looks at is lighter than the average of all; ours."""

SHARED, ALONE = 0.05, 0.15
"""Stops by which pairs across cameras err all together, and a single one by itself; ours."""

COURSE, PER_MINUTE = 0.1, 0.05
"""Stops by which two courses differ at one time, and more for each minute between them; ours."""

OTHER_LIGHT = 1.5
"""Stops between two courses of different light, such as indoors and out of doors; ours."""

LONGEST_GAP = 15.0
"""Minutes between frames from which the courses of two cameras say nothing of each other; ours."""

LEAN = np.array([10.0, 0.004])
"""Mired and Duv by which a camera's guesses of the white lean to one side; ours."""

WHITE_SHARED, WHITE_ALONE = np.array([2.0, 0.0015]), np.array([8.0, 0.006])
WHITE_COURSE = np.array([5.0, 0.003])
"""As `SHARED`, `ALONE` and `COURSE`, in mired and Duv; ours."""

_SOME_DAY = datetime(2000, 1, 1)


@dataclass(frozen=True)
class Solved:
    """What the frames of one camera tell by themselves.

    Attributes
    ----------
    frames : sequence of Small
        In order of capture.
    index, dials, light, recorded : ndarray, shape (frames,)
        Middle of green, what the settings let in, and what `solve_light` finds; stops.
    as_shot, white : ndarray, shape (frames, 2)
        White that the camera took, and its course: mired and Duv, NaN where it is no light.
    """

    frames: Sequence[Small]
    index: np.ndarray
    dials: np.ndarray
    light: np.ndarray
    recorded: np.ndarray
    as_shot: np.ndarray
    white: np.ndarray

    @property
    def base(self) -> float:
        """Stops from the zero of the course to white."""
        return float(np.median(self.index - self.dials))

    @property
    def rendered(self) -> bool:
        """Whether its frames are pictures already."""
        return self.frames[0].camera is None

    @property
    def minutes(self) -> np.ndarray:
        """Times of capture by the clock, in minutes from some day on."""
        times = [frame.captured.time - _SOME_DAY for frame in self.frames]
        return np.array([time.total_seconds() / 60 for time in times])

    @property
    def constant(self) -> float:
        """Stops by which its constant may err."""
        if all(frame.dials is None for frame in self.frames):
            return UNSTATED
        return PICTURE if self.rendered else HONEST


class Shift(NamedTuple):
    """What is added to a camera's light and recorded levels, stops, and to its white."""

    light: float
    recorded: float
    white: np.ndarray


class _Claim(NamedTuple):
    """``sum of each factor times the unknown of its number = right``, to within `scale`."""

    factors: dict[int, float]
    right: float
    scale: float


Across = Mapping[tuple[int, int], Sequence[Ratio]]
"""Ratios of `find_across` by the numbers of the two cameras."""


def shifts(cameras: Sequence[Solved], across: Across) -> list[Shift]:
    """What sets the cameras beside each other; nothing for one alone.

    Parameters
    ----------
    cameras : sequence of Solved
    across : mapping
    """
    if len(cameras) == 1:
        return [Shift(0.0, 0.0, np.zeros(2))]
    content, zero = _exposures(cameras, across)
    whites = _whites(cameras, across)
    return [
        Shift(camera.base - zero[n], camera.base + content[n], whites[n])
        for n, camera in enumerate(cameras)
    ]


def _exposures(cameras, across):
    """For each camera what is to be added to its levels, and taken from its light."""
    count = len(cameras)
    claims = [_Claim({n: 1}, 0.0, CONTENT) for n in range(count)]
    claims += [_Claim({n: 1, count + n: 1}, 0.0, c.constant) for n, c in enumerate(cameras)]
    for a, b in combinations(range(count), 2):
        one, two = cameras[a], cameras[b]
        found = _light_between(one, two)
        if found is not None and abs(found[0]) < OTHER_LIGHT:
            claims.append(_Claim({count + b: 1, count + a: -1}, *found))
        differences = [
            ratio.ratio[0] - (one.recorded[ratio.first] + one.base)
            + (two.recorded[ratio.second] + two.base)
            for ratio in across.get((a, b), ())
        ]  # fmt: skip
        if differences:
            claims.append(_Claim({a: 1, b: -1}, *_together(differences, SHARED, ALONE)))
    return np.split(_solved(claims, 2 * count), 2)


def _whites(cameras, across):
    """Mired and Duv to be added to each camera's course, shape (cameras, 2)."""
    found = np.zeros((len(cameras), 2))
    casts = {
        (a, b): np.array([_cast(cameras[a], cameras[b], each) for each in ratios]).reshape(-1, 2)
        for (a, b), ratios in across.items()
    }
    for axis in (0, 1):
        claims = [_Claim({n: 1}, 0.0, LEAN[axis]) for n in range(len(cameras))]
        for a, b in combinations(range(len(cameras)), 2):
            values = casts.get((a, b), np.empty((0, 2)))[:, axis]
            values = values[np.isfinite(values)]
            if values.size:
                known = _together(values, WHITE_SHARED[axis], WHITE_ALONE[axis])
                claims.append(_Claim({a: 1, b: -1}, *known))
            same = _whites_between(cameras[a], cameras[b], axis)
            if same is not None:
                claims.append(_Claim({a: 1, b: -1}, same, WHITE_COURSE[axis]))
        found[:, axis] = _solved(claims, len(cameras))
    return found


def _together(values, shared, alone):
    """The middle of what pairs say, and to within what."""
    centre, spread = middle(np.asarray(values))
    return centre, float(np.hypot(shared, max(spread, alone) / np.sqrt(len(values))))


def _cast(one, two, ratio):
    """By how much more the first camera's course is to be raised, as two frames show it."""
    rgb = np.exp2([ratio.ratio[1], 0.0, ratio.ratio[2]])
    try:
        kelvin, duv = white.xy_to_kelvin_duv(
            spaces.xyz_to_xy(spaces.rgb_to_xyz(spaces.WORKING) @ rgb)
        )
    except ValueError:
        return np.full(2, np.nan)
    plain, green = white.xy_to_kelvin_duv(spaces.D65)
    cast = white.kelvin_to_mired(kelvin) - white.kelvin_to_mired(plain), duv - green
    i, j = ratio.first, ratio.second
    return cast - (one.white - one.as_shot)[i] + (two.white - two.as_shot)[j]


def _light_between(one, two):
    """How much lighter the second camera's course is at one time, and to within what; or None."""
    first, second = one.light + one.base, two.light + two.base
    inside = _differences(one.minutes, first, two.minutes, second)
    if inside.size:
        centre, spread = middle(inside)
        return centre, float(np.hypot(COURSE, spread / np.sqrt(inside.size)))
    if one.minutes[0] > two.minutes[0]:
        found = _over_gap(two.minutes, second, one.minutes, first)
        return found and (-found[0], found[1])
    return _over_gap(one.minutes, first, two.minutes, second)


def _differences(early, first, late, second):
    """The second less the first at times of either that lie among the other's."""
    shared = (late >= early[0]) & (late <= early[-1])
    other = (early >= late[0]) & (early <= late[-1])
    return np.concatenate([
        second[shared] - np.interp(late[shared], early, first),
        np.interp(early[other], late, second) - first[other],
    ])  # fmt: skip


def _over_gap(early, first, late, second):
    """The second less the first where one ends before the other begins, by their slopes."""
    gap = late[0] - early[-1]
    if gap > LONGEST_GAP:
        return None
    slope = (_slope(early[-5:], first[-5:]) + _slope(late[:5], second[:5])) / 2
    return second[0] - first[-1] - slope * gap, float(np.hypot(COURSE, PER_MINUTE * gap))


def _slope(minutes, values):
    spread = minutes - minutes.mean()
    return (spread @ values) / max(spread @ spread, 1e-9)


def _whites_between(one, two, axis):
    """How much more the second camera's course of the white is at one time; or None."""
    if one.rendered or two.rendered:
        return None
    (early, first), (late, second) = (
        (c.minutes[known], c.white[known, axis])
        for c in (one, two)
        for known in [np.isfinite(c.white[:, axis])]
    )
    if not (early.size and late.size):
        return None
    inside = _differences(early, first, late, second)
    return float(np.median(inside)) if inside.size else None


def _solved(claims, count):
    rows, right = np.zeros((len(claims), count)), np.zeros(len(claims))
    for n, claim in enumerate(claims):
        for unknown, factor in claim.factors.items():
            rows[n, unknown] = factor / claim.scale
        right[n] = claim.right / claim.scale
    return np.linalg.lstsq(rows, right, rcond=None)[0]
