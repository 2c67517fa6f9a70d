"""How much fixed places of a simulated evening flicker, and how true its course is."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from evening.estuary import HEIGHT, PLACES, WIDTH, Shot, make_evening
from grading.colour import camera, white
from grading.engine.descent import taken_through
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.evening.level.corrections import Levelled
from grading.evening.level.measure import Measuring
from grading.evening.load import load_shoot
from grading.evening.settle import settle
from grading.files.originals import open_frame
from grading.region import Region

SHOOT = """\
shoot: 1
originals: .
looks: [plain.yaml]
level: {keep_fall: 0, keep_cooling: 0, limit: 6}
deliveries: {web: {folder: web}}
"""
BENDS = 7
"""Degree of the polynomial in time that counts as smooth."""


@dataclass(frozen=True)
class Judged:
    """Of one way to level: deviations from a smooth curve, over all fixed places.

    ``stops`` and ``colour`` are (rms, worst) of lightness in stops, and of Oklab a and b;
    ``contrast`` is the deviation between the places in one frame, in stops.
    """

    stops: tuple[float, float]
    colour: tuple[float, float]
    contrast: float


@dataclass(frozen=True)
class Evening:
    """A simulated evening, its truth, and what levelling found."""

    loaded: object
    truth: list[Shot]
    levels: dict[str, Levelled]

    def course(self) -> tuple[float, float]:
        """Deviation of the light from the truth, rms and worst, in stops."""
        found = np.array([self.levels[frame.name].light for frame in self.loaded.frames])
        error = found - [shot.light for shot in self.truth]
        return float(np.std(error)), float(np.abs(error - error.mean()).max())

    def white(self) -> float:
        """Deviation of the white from the truth, rms, in mired."""
        found = [self.levels[frame.name].kelvin for frame in self.loaded.frames]
        return float(np.std(1e6 / np.array(found) - [shot.mired for shot in self.truth]))


def simulated(folder: Path, **settings) -> Evening:
    """Make an evening in a folder and measure it."""
    truth = make_evening(folder, **settings)
    loaded, levels = measured(folder)
    return Evening(loaded, truth, levels)


def measured(folder: Path):
    """The shoot of the frames in a folder, and their levels."""
    (folder / "plain.yaml").write_text("grading: 1\n")
    (folder / "evening.yaml").write_text(SHOOT)
    loaded = load_shoot(folder / "evening.yaml")
    measuring = Measuring(loaded)
    for _ in measuring:
        pass
    return loaded, measuring.levels()


def judged(evening: Evening) -> dict[str, Judged]:
    """The evening as developed straight, as levelled, and as levelled by the truth."""
    ways = {"straight": [], "levelled": [], "truth": []}
    for frame, shot in zip(evening.loaded.frames, evening.truth, strict=True):
        opened, found = open_frame(frame.path), evening.levels[frame.name]
        xy = camera.neutral_to_xy(opened.facts.camera, shot.neutral)
        kelvin, duv = white.xy_to_kelvin_duv(xy)
        true = replace(found, stops=-shot.light - shot.offset - 9, kelvin=kelvin, duv=duv)
        for way, levelled in (("straight", None), ("levelled", found), ("truth", true)):
            levels = {frame.name: levelled} if levelled else {}
            recipe = settle(evening.loaded, frame, "plain", levels)
            ways[way].append(_places(opened, resolve(recipe, opened), shot))
    minutes = np.array([shot.minutes for shot in evening.truth])
    return {way: _judge(minutes, np.array(values)) for way, values in ways.items()}


def _places(frame, recipe, shot):
    """Lightness in stops, a and b of each place; NaN where it is not whole in the frame."""
    plan = make_plan(recipe, frame)
    return [_place(frame, plan, shot, name) for name in PLACES]


def _place(frame, plan, shot, name):
    row, column = shot.where(name)
    high = round(14 / shot.placing[0]) * (2 if name == "water" else 1)
    wide = high * (3 if name == "water" else 1)
    if not (high <= row <= HEIGHT - high and wide <= column <= WIDTH - wide):
        return [np.nan] * 3
    region = Region(row - high, row + high, column - wide, column + wide)
    light, a, b = taken_through(plan, region).reshape(3, -1).mean(axis=1)
    clipped = frame.pixels.read(region).max() > 0.98
    return [np.nan] * 3 if clipped else [3 * np.log2(max(light, 1e-4)), a, b]


def _judge(minutes, values):
    left = np.full(values.shape, np.nan)
    for place in range(values.shape[1]):
        for channel in range(3):
            y = values[:, place, channel]
            known = np.isfinite(y)
            smooth = np.polynomial.Polynomial.fit(minutes[known], y[known], BENDS)
            left[known, place, channel] = y[known] - smooth(minutes[known])

    def spread(part):
        known = part[np.isfinite(part)]
        return float(np.sqrt(np.mean(known**2))), float(np.abs(known).max())

    contrast = float(np.nanmean(np.nanstd(values[:, :, 0], axis=1)))
    return Judged(spread(left[:, :, 0]), spread(left[:, :, 1:]), contrast)
