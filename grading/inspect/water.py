"""Whether a line in a frame has sky above it and water below, as a sea horizon has.

Water that reaches the horizon is seen at so flat an angle that its waves are level streaks. Four
things set them apart from walls, planks, fields and land. They are much longer than high. Close to
the line they are weak, since each pixel there is a mean of many waves, and they grow downwards.
They do not run through the frame, as slats and rails do. And they are level, as the horizon is: an
awning or a jetty that slopes before the sea does not lie along its streaks. The crests of a swell
that comes in at an angle are level only at the horizon and turn evenly below it, so what counts is
their slope there. Above the line there is nothing of the kind.

That far waves are weak because they are averaged follows from perspective; how weak, and all other
limits, are ours, set on simulated frames (`tests/lean_frames`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise

BINS = 3
"""Parts of a strip, each with one mean of its columns for every row."""

UP, BELOW = 0.06, (0.0, 0.04, 0.1, 0.2)
"""Rows above the line that are looked at, and where zones below it begin and end: shares of all."""

LEAST_EDGE, EDGE = 4, 130
"""Rows beside the line that are left out: at least, and one in so many of all."""

LONG, GROWING, LONG_AND_GROWING = 5.0, 2.0, 34.0
"""How many times as long as high streaks are close to the line, where they are seen most from the
side; how much their energy grows; and that times their length, close to the line or below."""

STREAKED, STREAKED_CLOSE, SEEN = 0.9, 0.75, 0.5
"""Share of strips in which waves are seen, farther below the line and close to it: their energy is
so much of the noise's."""

LEAST = 0.3
"""Energy along the rows that is told from none, over that of the noise."""

LEVEL_ALIKE, ALIKE, ASIDE = 0.9, 0.72, 8
"""Most correlation of strips that are one part in so many of the width apart: of what lies along
the line; and of what lies along the streaks farther below, less what all strips share.
Slats, steps, courses of a wall and rails run through the frame, waves do not."""

CALM = 0.5
"""Most energy of the sky over that of the waves."""

LEVEL, SURE, DOUBT = 0.5, 1.5, 0.6
"""Degrees that streaks may differ from the line, and deviations of that; most such deviation."""

TURNS, ITSELF = 30.0, 0.15
"""Degrees a frame's height by which a swell usually turns its streaks; degrees that those of a zone
are off by themselves."""

FEWEST = 8
"""Strips that must show a zone."""


class Zone(NamedTuple):
    """Waves of a zone, each number the middle one of its strips.

    ``down`` is the energy of differences down the rows, in stops squared a pixel, less that of the
    noise, which is ``noise``. ``length`` tells how many times as long as high streaks are,
    ``slope`` their slope against the line and ``doubt`` its deviation, in degrees. ``seen`` is the
    share of strips in which there are waves; ``level_alike`` and ``alike`` are correlations of
    strips apart from each other, along the line and along the streaks; ``row`` is the middle of the
    zone, below the line, as a share of all rows.
    """

    down: float
    noise: float
    length: float
    slope: float
    doubt: float
    seen: float
    level_alike: float
    alike: float
    row: float


class Water(NamedTuple):
    """What is below a line: how plain it is that it is water, 0 where it is none and from 1 on
    otherwise; and whether it is nothing that only looks like it."""

    plain: float
    sure: bool


def least_light(noise: Noise) -> np.float32:
    """Light below which all is noise."""
    return np.float32(3 * np.sqrt(noise.variance(0.0)) + 1e-5)


def water_below(
    means: np.ndarray, noise: Noise, wide: int, rows: np.ndarray, good: np.ndarray
) -> Water:
    """Whether a line parts sky from water.

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
    sky, close, *farther = _zones(means, noise, wide, rows, good)
    farther = [zone for zone in farther if zone]
    if not (sky and close and farther):
        return Water(0.0, False)
    most, length = (max(getattr(zone, name) for zone in (close, *farther))
                    for name in ("down", "length"))  # fmt: skip
    growth = most / max(close.down, close.noise)
    plain = length * growth / LONG_AND_GROWING
    sure = growth >= GROWING and _are_level_waves(sky, close, farther)
    return Water(plain if plain >= 1 else 0.0, sure)


def _are_level_waves(sky, close, farther):
    """Whether there are level streaks from a line on, none above it, and they are no slats."""
    slope, doubt = level_slope([close, *farther])
    return (
        min(zone.seen for zone in farther) >= STREAKED
        and close.seen >= STREAKED_CLOSE
        and close.length >= LONG
        and max(zone.level_alike for zone in (close, *farther)) <= LEVEL_ALIKE
        and max(zone.alike for zone in farther) <= ALIKE
        and sky.down <= CALM * max(zone.down for zone in farther)
        and doubt <= DOUBT
        and abs(slope) <= LEVEL + SURE * doubt
    )


def level_slope(zones: list[Zone]) -> tuple[float, float]:
    """Slope of streaks at the line and its deviation, in degrees, if it changes evenly below it.

    Examples
    --------
    >>> zones = [Zone(1, 0, 9, 0.5 + 40 * row, 0.2, 1, 0, 0, row) for row in (0.02, 0.07, 0.15)]
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
    """The zone above a line, and those below it from the line on; None where one is not seen."""
    height = means.shape[0]
    edge, first, last = max(LEAST_EDGE, height // EDGE), round(UP * height), BELOW[-1] * height
    place = rows + np.arange(-first - 2, round(last) + 3)[:, None]
    above = np.floor(place).astype(int)
    there = ((above >= 0) & (above < height - 1)).reshape(len(place), -1, BINS).all(2) & good
    stops, grain = _along_line(means, noise, wide, above, (place - above).astype(np.float32))
    stops[1:-1] = (stops[:-2] + 2 * stops[1:-1] + stops[2:]) / 4
    down = np.zeros_like(stops)
    down[1:-1] = (stops[2:] - stops[:-2]) / 2
    down = down.reshape(len(down), -1, BINS)
    shared = np.median(down.mean(2), axis=1)
    down -= shared[:, None, None]
    along = np.gradient(stops, wide, axis=1).reshape(down.shape)
    grain = grain.reshape(down.shape)

    def zone(begin, end):
        some = slice(begin + first + 2, end + first + 3)
        whole = there[some].all(0)
        if whole.sum() < FEWEST or begin >= end:
            return None
        part = (each[some, whole] for each in (down, along, grain))
        return _zone(*part, shared[some], wide, (begin + end) / 2 / height)

    bounds = [max(edge, round(share * height)) for share in BELOW]
    return zone(-first, -edge), *(zone(*pair) for pair in zip(bounds, bounds[1:], strict=False))


def _along_line(means, noise, wide, above, part):
    """Stops at places between two rows, and the variance of their noise."""
    above = np.clip(above, 0, len(means) - 2)
    bins = np.arange(means.shape[1])
    light = (1 - part) * means[above, bins] + part * means[above + 1, bins]
    light = np.maximum(light, least_light(noise))
    variance = (noise.gain * light + noise.offset) / np.square(light) * np.float32(1.4427**2 / wide)
    return np.log2(light), variance * ((1 - part) ** 2 + part**2)


def _zone(down, along, grain, shared, wide, row):
    """A zone of differences, shape (rows, strips, BINS), and what strips share of those down."""
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
    fall = round(slope * apart * BINS * wide)
    return Zone(
        float(middle), float(np.median(fine)),
        float(np.sqrt(middle / max(aside, LEAST * np.median(coarse), 1e-9))),
        float(np.degrees(slope)), float(np.degrees(1.25 * scatter / np.sqrt(slopes.size))),
        float((energy > SEEN * fine).mean()),
        _alike(strips + shared[:, None], apart, 0), _alike(strips, apart, fall), row,
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
