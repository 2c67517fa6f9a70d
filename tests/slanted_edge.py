"""Sharpness of a picture of a slanted edge: ISO 12233 (edge-based spatial frequency response)."""

import math

import numpy as np
from scipy.special import erf

BINS = 4
"""Samples of the edge a pixel."""

HALF = 24
"""Pixels on either side of the edge that count."""


def edge(deviation, low=0.1, high=0.4, size=200, degrees=5.0):
    """A slanted edge blurred by a Gaussian and averaged over square pixels, (size, size)."""
    fine = (np.arange(4 * size) + 0.5) / 4 - size / 2
    turn = math.radians(degrees)
    away = fine * math.cos(turn) + fine[:, None] * math.sin(turn)
    rise = 0.5 + 0.5 * erf(away / (deviation * math.sqrt(2)))
    return low + (high - low) * rise.reshape(size, 4, size, 4).mean((1, 3))


def profile(plane):
    """Levels across the edge, `BINS` a pixel, about a line fitted through the rows' centroids."""
    rows, columns = plane.shape
    slope = np.abs(np.diff(plane, axis=1)) * np.hamming(columns - 1)
    centres = (slope * (np.arange(columns - 1) + 0.5)).sum(1) / slope.sum(1)
    lean, start = np.polyfit(np.arange(rows), centres, 1)
    away = np.arange(columns) - (lean * np.arange(rows)[:, None] + start)
    place = np.floor(away * math.cos(math.atan(lean)) * BINS).astype(int) + HALF * BINS
    inside = (place >= 0) & (place < 2 * HALF * BINS)
    counts = np.bincount(place[inside], minlength=2 * HALF * BINS)
    return np.bincount(place[inside], plane[inside], 2 * HALF * BINS) / counts


def response(levels):
    """Frequencies in cycles a pixel, up to 0.6, and the response there."""
    spread = np.convolve(levels, [0.5, 0, -0.5], "valid")
    found = np.abs(np.fft.rfft(spread * np.hamming(spread.size)))
    frequencies = np.fft.rfftfreq(spread.size, 1 / BINS)
    of_difference = np.sinc(2 * frequencies / BINS)
    within = frequencies <= 0.6
    return frequencies[within], (found / found[0] / of_difference)[within]


def half_response(plane):
    """Cycles a pixel at which half of the contrast is left (MTF50)."""
    frequencies, found = response(profile(plane))
    i = int(np.argmax(found < 0.5))
    return float(np.interp(-0.5, -found[i - 1 : i + 1], frequencies[i - 1 : i + 1]))


def response_at(plane, frequency):
    """Share of the contrast that is left at a frequency in cycles a pixel."""
    return float(np.interp(frequency, *response(profile(plane))))


def overshoot(plane, low=0.1, high=0.4):
    """How far the levels go beyond those of both sides, as a share of the step."""
    levels = profile(plane)
    return (levels.max() - high) / (high - low), (low - levels.min()) / (high - low)
