"""Whether there is water below a line, as there is below a sea horizon.

Water that reaches the horizon is seen at so flat an angle that its waves are level streaks. Five
things set them apart from walls, planks, fields and land. Close to the line they are much longer
than high, and not much more so farther down, where they are seen less from the side. They are weak
close to it, since each pixel is a mean of many waves, and grow downwards; but evenly, as
perspective has it, while a smooth wall that ends at rough water is a leap. They do not run through
the frame, as slats and rails do. And they are level, as the horizon is: an awning or a jetty that
slopes before the sea does not lie along its streaks. The crests of a swell that comes in at an
angle are level only at the horizon and turn evenly below it, so what counts is their slope there.

That far waves are weak because they are averaged follows from perspective; how weak, and all other
limits, are ours, set on simulated frames (`tests/lean_frames`).
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from grading.frame import Noise

BINS = 3
"""Parts of a strip, each with one mean of its columns for every row."""

BELOW = (0.0, 0.04, 0.1, 0.2)
"""Where zones below the line begin and end: shares of all rows."""

LEAST_EDGE, EDGE = 4, 130
"""Rows below the line that are left out: at least, and one in so many of all."""

GROWING, LONG_AND_GROWING = 4.0, 50.0
"""How much the energy of waves grows; and that times how many times as long as high streaks are
close to the line, where they are seen most from the side."""

STEEPEST = 6.0
"""Power of the distance from the line by which energy grows at most from zone to zone."""

ALIKE, ASIDE = 0.72, 8
"""Most correlation of strips that are one part in so many of the width apart, along the streaks and
less what all strips share. Slats, steps, courses of a wall and rails run through the frame, waves
do not."""

LONGER = 1.6
"""How many times as long for their height streaks of the last zone may be as those before."""

LEVEL, SURE, DOUBT = 0.7, 1.5, 1.5
"""Degrees that streaks may differ from the line, and deviations of that; degrees of these from
which on streaks say nothing."""

TURNS, ITSELF = 30.0, 0.15
"""Degrees a frame's height by which a swell usually turns its streaks; degrees that those of a zone
are off by themselves."""

FEWEST = 8
"""Strips that must show a zone."""


class Zone(NamedTuple):
    """Waves of a zone, each number the middle one of its strips.

    ``down`` is the energy of differences down the rows, in stops squared a pixel, less that of the
    noise, which is ``noise``. ``length`` tells how many times as long as high streaks are, 1 where
    none are seen, ``slope`` their slope against the line and ``doubt`` its deviation, in degrees.
    ``alike`` is the correlation of strips apart from each other; ``row`` is the middle of the zone,
    below the line, as a share of all rows.
    """

    down: float
    noise: float
    length: float
    slope: float
    doubt: float
    alike: float
    row: float


class Water(NamedTuple):
    """How plain it is that water is below a line, from 1 on, and 0 where it is none; and whether it
    is nothing that only looks like it."""

    plain: float
    sure: bool


def least_light(noise: Noise) -> np.float32:
    """Light below which all is noise."""
    return np.float32(3 * np.sqrt(noise.variance(0.0)) + 1e-5)


def water_below(
    means: np.ndarray, noise: Noise, wide: int, rows: np.ndarray, good: np.ndarray
) -> Water:
    """Whether there is water below a line.

    Parameters
    ----------
    means : ndarray, shape (rows, BINS * strips), float32
        Light, averaged over some columns.
    noise : Noise
        Of a pixel of the picture.
    wide : int
        Columns of a mean.
    rows : ndarray, shape (BINS * strips,)
        Where the line is, from the top.
    good : ndarray, shape (strips,), bool
        Where nothing stands before it.
    """
    close, *farther = _zones(means, noise, wide, rows, good)
    farther = [zone for zone in farther if zone]
    if not (close and farther):
        return Water(0.0, False)
    growth = max(zone.down for zone in (close, *farther)) / max(close.down, close.noise)
    plain = close.length * growth / LONG_AND_GROWING
    # grain without a direction seems as long as a mean is wide
    long = close.length >= wide or close.down < close.noise
    sure = long and growth >= GROWING and _are_level_waves([close, *farther])
    return Water(plain if plain >= 1 else 0.0, sure)


def _are_level_waves(zones):
    """Whether there are level streaks from a line on that grow evenly, and they are no slats."""
    slope, doubt = level_slope(zones)
    *before, last = (zone.length for zone in zones)
    return (
        last <= LONGER * max(before)
        and max(zone.alike for zone in zones) <= ALIKE
        and all(grow_evenly(*pair) for pair in pairwise(zones))
        and doubt <= DOUBT
        and abs(slope) <= LEVEL + SURE * doubt
    )


def grow_evenly(upper: Zone, lower: Zone) -> bool:
    """Whether waves of a zone grow no faster to the next than perspective lets them.

    The height of a pixel on the water is as the square of its distance from the horizon, in pixels,
    and its width as that distance, so the variance of a mean of waves grows with its third power
    while the waves are smaller than a pixel, and faster where these cancel each other.

    Examples
    --------
    >>> upper = Zone(1e-5, 1e-6, 9, 0, 0.5, 0, 0.02)
    >>> grow_evenly(upper, upper._replace(down=1e-3, row=0.06))
    True
    >>> grow_evenly(upper, upper._replace(down=1e-2, row=0.06))
    False
    """
    return lower.down <= max(upper.down, upper.noise) * (lower.row / upper.row) ** STEEPEST


def level_slope(zones: list[Zone]) -> tuple[float, float]:
    """Slope of streaks at the line and its deviation, in degrees, if it changes evenly below it.

    Examples
    --------
    >>> zones = [Zone(1, 0, 9, 0.5 + 40 * row, 0.2, 0, row) for row in (0.02, 0.07, 0.15)]
    >>> slope, doubt = level_slope(zones)
    >>> round(slope, 1), round(doubt, 1)
    (0.5, 0.3)
    """
    slope, doubt, row = (np.array([getattr(each, name) for each in zones])
                         for name in ("slope", "doubt", "row"))  # fmt: skip
    weight = 1 / (doubt**2 + ITSELF**2)
    powers = np.stack([np.ones_like(row), row], 1)
    square = (powers.T * weight) @ powers + np.diag([0, TURNS**-2])
    inverse = np.linalg.inv(square)
    return float((inverse @ (powers.T @ (weight * slope)))[0]), float(inverse[0, 0] ** 0.5)


def _zones(means, noise, wide, rows, good):
    """The zones below a line, from it on; None where one is not seen."""
    height = means.shape[0]
    edge, last = max(LEAST_EDGE, height // EDGE), round(BELOW[-1] * height)
    place = rows + np.arange(edge - 2, last + 3)[:, None]
    above = np.floor(place).astype(int)
    there = ((above >= 0) & (above < height - 1)).reshape(len(place), -1, BINS).all(2) & good
    stops, grain = _along_line(means, noise, wide, above, (place - above).astype(np.float32))
    stops[1:-1] = (stops[:-2] + 2 * stops[1:-1] + stops[2:]) / 4
    down = np.zeros_like(stops)
    down[1:-1] = (stops[2:] - stops[:-2]) / 2
    down = down.reshape(len(down), -1, BINS)
    down -= np.median(down.mean(2), axis=1)[:, None, None]
    along = np.gradient(stops, wide, axis=1).reshape(down.shape)
    grain = grain.reshape(down.shape)

    def zone(begin, end):
        some = slice(begin - edge + 2, end - edge + 3)
        whole = there[some].all(0)
        if whole.sum() < FEWEST or begin >= end:
            return None
        part = (each[some, whole] for each in (down, along, grain))
        return _zone(*part, wide, (begin + end) / 2 / height)

    bounds = [max(edge, round(share * height)) for share in BELOW]
    return [zone(*pair) for pair in pairwise(bounds)]


def _along_line(means, noise, wide, above, part):
    """Stops at places between two rows, and the variance of their noise."""
    above = np.clip(above, 0, len(means) - 2)
    bins = np.arange(means.shape[1])
    light = (1 - part) * means[above, bins] + part * means[above + 1, bins]
    light = np.maximum(light, least_light(noise))
    variance = (noise.gain * light + noise.offset) / np.square(light) * np.float32(1.4427**2 / wide)
    return np.log2(light), variance * ((1 - part) ** 2 + part**2)


def _zone(down, along, grain, wide, row):
    """A zone of differences, shape (rows, strips, BINS)."""
    along = along - along.mean(0)
    # of 1 2 0 -2 -1 over 8 down the rows; of 1 2 1 over 4, and -1 0 1 over two means, along them
    noise = _mean(grain)
    fine, coarse = noise * (10 / 64), noise * (12 / 64) / wide**2
    energy, aside = _mean(down * down) - fine, np.median(_mean(along * along) - coarse)
    slopes = -_mean(down * along) / np.maximum(energy, 0.2 * fine + 1e-9)
    slope, middle = np.median(slopes), max(np.median(energy), 0.0)
    scatter = 1.4826 * np.median(np.abs(slopes - slope))
    strips = down.mean(2)
    apart = max(1, strips.shape[1] // ASIDE)
    ratio = middle / max(aside, np.median(coarse), 1e-9)
    return Zone(
        float(middle), float(np.median(fine)), max(float(np.sqrt(ratio)), 1.0),
        float(np.degrees(slope)), float(np.degrees(1.25 * scatter / np.sqrt(slopes.size))),
        _alike(strips, apart, round(slope * apart * BINS * wide)), row,
    )  # fmt: skip


def _alike(strips, apart, fall):
    """Middle correlation of strips with those some way to the right and some rows below."""
    fall = int(np.clip(fall, -(len(strips) // 2), len(strips) // 2))
    left = strips[max(0, -fall) : len(strips) - max(0, fall), :-apart]
    right = strips[max(0, fall) : len(strips) - max(0, -fall), apart:]
    left, right = left - left.mean(0), right - right.mean(0)
    size = np.sqrt(np.square(left).sum(0) * np.square(right).sum(0))
    return float(np.median((left * right).sum(0) / (size + 1e-9)))


def _mean(values):
    """Means of each strip."""
    return np.einsum("rsb->s", values) / (values.shape[0] * values.shape[2])
