"""Whether a line in a frame has sky above it and water below, as a sea horizon has.

Water that reaches the horizon is seen at so flat an angle that its waves are level streaks: light
differs much more down the rows than along them, from the line itself on. That is not so in walls,
planks or land, while noise is the same both ways and cancels. Above there is nothing of the kind.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise

UP, CLOSE, BELOW = 0.06, 0.035, (0.06, 0.1)
"""Rows that are looked at above the line and, close to it and farther, below: shares of all."""

FLAT, FLATTER, LONG = 8.0, 20.0, 6.0
"""Energy of light's differences down the rows over that along them: below the line; close to it;
and of rows smoothed a little, over that to a place `FAR` columns away, either here or there."""

FAR, PAD, COLUMNS = 8, 3, 16
"""Columns; rows that a line rises on them, at most; columns of a strip that are looked at."""

SEEN, STREAKED = 0.4, 0.9
"""Energy of waves over that of noise; share of strips in which they are level streaks."""

CALM, BEGINS = 0.25, 0.04
"""Over the energy of the waves: most energy of the sky, and least of waves close to the line."""

SMOOTHED = 0.125, 0.3
"""Share of the noise's energy that smoothing rows by 1 2 1 leaves from row to row, and to a place
between two rows."""

FEWEST = 8
"""Strips that must show a part of the frame."""


class Zone(NamedTuple):
    """Energy of differences, in stops squared, of each strip: from a row to the next, from a column
    to the next, and of the noise in them; then of rows that are smoothed, from one to the next, and
    to `FAR` columns away along the line."""

    down: np.ndarray
    across: np.ndarray
    noise: np.ndarray
    smooth: np.ndarray
    far: np.ndarray

    @property
    def length(self) -> float:
        """How long streaks are: energy down over that along, less what noise has in both."""
        along = self.far - SMOOTHED[1] * self.noise
        return (self.smooth - SMOOTHED[0] * self.noise) / max(along, 0.05 * self.noise, 1e-9)

    def middle(self, share: float = 1.0) -> Zone:
        """Middle energies of those strips that differ least along the rows, some share of all: half
        of them are mostly without sun on the water."""
        order = np.argsort(self.far, kind="stable")
        order = order[: int(np.ceil(share * order.size))]
        return Zone(*(float(np.median(each[order])) for each in self))


def least_light(noise: Noise) -> np.float32:
    """Light below which all is noise."""
    return np.float32(3 * np.sqrt(noise.variance(0.0)) + 1e-5)


def parts_sky_and_water(
    light: np.ndarray, noise: Noise, rows: np.ndarray, good: np.ndarray, width: int
) -> bool:
    """Whether a line parts sky from water.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
    noise : Noise
        Of a pixel of it.
    rows : ndarray, shape (strips,)
        Of the line in strips of columns, from the left.
    good : ndarray, shape (strips,), bool
        Where nothing stands before it.
    width : int
        Columns of a strip.
    """
    sky, close, water = _zones(light, noise, rows, good, width)
    if any(each is None for each in (sky, close, water)):
        return False
    above, near, below = sky.middle(), close.middle(0.5), water.middle(0.5)
    waves = below.down - below.across
    at_once = near.down - near.across
    return (
        (water.down > 1.15 * water.across).mean() >= STREAKED
        and waves >= SEEN * below.noise
        and below.across - below.noise <= waves / FLAT + 0.1 * below.noise
        and max(above.down, above.across) - above.noise <= CALM * waves + 0.3 * above.noise
        and at_once >= max(BEGINS * waves, 0.5 * SEEN * near.noise)
        and near.across - near.noise <= max(at_once, 0.1 * waves) / FLATTER + 0.1 * near.noise
        and max(near.length, below.length) >= LONG
    )


def _zones(light, noise, rows, good, width):
    """The part above a line, close below it, and farther below; None where one is not seen."""
    height = light.shape[0]
    edge, first, last = max(4, height // 130), round(UP * height), round(BELOW[1] * height)
    begin = -first - PAD
    index = np.rint(rows).astype(int) + np.arange(begin, last + PAD + 1)[:, None]
    there = (index >= 0) & (index < height) & good
    strips = light[:, : rows.size * width].reshape(height, rows.size, width)[..., :COLUMNS]
    seen = strips[np.clip(index, 0, height - 1), np.arange(rows.size)]
    energies = _energies(np.maximum(seen, least_light(noise)), noise, np.gradient(rows) / width)

    def zone(start, end):
        whole = there[start - begin - PAD : end - begin + PAD].all(0)
        if whole.sum() < FEWEST:
            return None
        return Zone(*energies[:, start - begin - PAD : end - begin - PAD, whole].mean(1))

    close, water = edge + round(CLOSE * height), round(BELOW[0] * height)
    return zone(-first, -edge), zone(edge, close), zone(water, last)


def _energies(light, noise, slope):
    """What a `Zone` holds, for each row but `PAD` at both ends, shape (5, rows, strips)."""
    stops, inner = np.log2(light), slice(PAD, -PAD - 1)
    down, across = np.diff(stops, axis=0)[PAD:-PAD], np.diff(stops[inner], axis=2)
    down -= np.median(_mean(down), axis=1)[:, None, None]
    smooth = stops.copy()
    smooth[1:-1] = (stops[:-2] + 2 * stops[1:-1] + stops[2:]) / 4
    steps = np.diff(smooth, axis=0)[PAD:-PAD]
    steps -= np.median(_mean(steps), axis=1)[:, None, None]
    means = _mean(light[inner])
    grain = 2 * 1.4427**2 * (noise.gain * means + noise.offset) / np.square(means)
    energy = [
        np.einsum("rsc,rsc->rs", each, each) / each.shape[2]
        for each in (down, across, steps, _along(smooth, slope))
    ]
    return np.stack([*energy[:2], grain, *energy[2:]])


def _mean(values):
    """Means along short rows, at once."""
    return np.einsum("rsc->rs", values) / values.shape[2]


def _along(stops, slope):
    """Differences to a place `FAR` columns away, so many rows down as the line falls."""
    far = min(FAR, stops.shape[2] - 1)
    fall = np.clip(slope * far, 1 - PAD, PAD - 1.001)
    whole = np.floor(fall).astype(int)
    share = (fall - whole).astype(np.float32)[:, None]
    row, strip = np.arange(PAD, len(stops) - PAD - 1)[:, None] + whole, np.arange(slope.size)
    ends = stops[:, :, far:]
    there = (1 - share) * ends[row, strip] + share * ends[row + 1, strip]
    return there - stops[PAD : -PAD - 1, :, :-far]
