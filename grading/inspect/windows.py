"""Windows of a frame that show most, and their power spectra beside that of the noise.

A window is a square of the light of all sites, at reduced size and divided by its mean, so that the
exposure cancels. Its spectrum is a periodogram under a Hann window (Welch, IEEE Trans. Audio
Electroacoust. 15:70, 1967); means of sites are not demosaiced, so the noise is white, and known.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from grading.frame import Noise

SIDE = 64
"""Pixels along a window."""

STEP = SIDE // 2
CELL = 4
"""Pixels along the squares by whose means windows are chosen."""

ZONES = 3
"""A frame has so many zones each way, numbered row by row."""

EACH = 24
"""Windows of a zone, at most."""

CLIPPED = 0.7
"""Mean of all sites of a square, 1 at white, from which on green may clip."""

_HANN = np.hanning(SIDE + 2)[1:-1]
HANN = np.outer(_HANN, _HANN)
HANN = (HANN / np.sqrt((HANN**2).mean())).astype(np.float32)


@dataclass(frozen=True)
class Windows:
    """The most telling windows of a frame.

    Attributes
    ----------
    scale : int
        Pixels of the original that make one of these, each way.
    power : ndarray, shape (n, SIDE, SIDE // 2 + 1), float32
        Of each window, over its squared mean; white noise of variance v has v everywhere.
    noise : ndarray, shape (n,), float64
        What the noise has in it at every frequency.
    zone : ndarray, shape (n,), int
    place : ndarray, shape (n, 2), float64
        Middle, x and y as fractions of the frame.
    """

    scale: int
    power: np.ndarray = field(repr=False)
    noise: np.ndarray = field(repr=False)
    zone: np.ndarray = field(repr=False)
    place: np.ndarray = field(repr=False)

    def those(self, which: np.ndarray) -> Windows:
        """Some of them."""
        picked = (each[which] for each in (self.power, self.noise, self.zone, self.place))
        return Windows(self.scale, *picked)

    def __len__(self) -> int:
        return len(self.noise)


def cells(light: np.ndarray) -> np.ndarray:
    """Means of squares of `CELL` pixels; what does not fill one at the far edges is left out."""
    rows, columns = (size // CELL for size in light.shape)
    sums = light[: rows * CELL].reshape(rows, CELL, -1).sum(1)
    return sums[:, : columns * CELL].reshape(rows, columns, CELL).sum(2) / np.float32(CELL**2)


def windows(light: np.ndarray, scale: int, noise: Noise) -> Windows:
    """The windows of a frame with most contrast, as many of each zone.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear light at reduced size, 1 at white.
    scale : int
    noise : Noise
        Of a pixel of `light`.

    Returns
    -------
    Windows
        None of them, where the frame is smaller than one, or clipped or black all over.
    """
    tops, lefts = _most_contrast(light)
    cut = np.stack([light[y : y + SIDE, x : x + SIDE] for y, x in zip(tops, lefts, strict=True)]
                   or [np.empty((SIDE, SIDE), np.float32)])[: len(tops)]  # fmt: skip
    mean = cut.mean((1, 2), dtype=np.float64)
    flat = (cut / mean[:, None, None] - 1).astype(np.float32) * HANN
    flat -= flat.mean((1, 2), keepdims=True) * HANN
    power = np.abs(np.fft.rfft2(flat)) ** 2 / SIDE**2
    place = np.stack([(lefts + STEP) / light.shape[1], (tops + STEP) / light.shape[0]], 1)
    return Windows(
        scale, power.astype(np.float32), noise.variance(mean) / mean**2, zones(place), place
    )


def zones(place: np.ndarray) -> np.ndarray:
    """Number of the zone that places (x, y as fractions) are in."""
    across, down = np.minimum((ZONES * np.asarray(place)).astype(int), ZONES - 1).T
    return ZONES * down + across


def _most_contrast(light):
    """Top and left edges of the chosen windows."""
    if min(light.shape) < SIDE:
        return np.empty(0, int), np.empty(0, int)
    means = cells(light)
    steps = np.zeros_like(means)
    steps[:, :-1] += np.diff(means, axis=1) ** 2
    steps[:-1] += np.diff(means, axis=0) ** 2
    mean, contrast, top = (_over_windows(f, each) for f, each in (
        (np.mean, means), (np.mean, steps), (np.max, means)))  # fmt: skip
    usable = (mean > 0) & (top < CLIPPED)
    score = np.where(usable, contrast / np.maximum(mean, 1e-6) ** 2, 0)
    y, x = np.mgrid[: score.shape[0], : score.shape[1]]
    middle = np.stack([(x.ravel() + 1) * STEP / light.shape[1],
                       (y.ravel() + 1) * STEP / light.shape[0]], 1)  # fmt: skip
    order = np.argsort(-score, axis=None, kind="stable")
    order = order[score.ravel()[order] > 0]
    zone = zones(middle)[order]
    chosen = np.concatenate([order[zone == z][:EACH] for z in range(ZONES**2)])
    return y.ravel()[chosen] * STEP, x.ravel()[chosen] * STEP


def _over_windows(function, values):
    side, step = SIDE // CELL, STEP // CELL
    views = np.lib.stride_tricks.sliding_window_view(values, (side, side))[::step, ::step]
    return function(views, axis=(2, 3))
