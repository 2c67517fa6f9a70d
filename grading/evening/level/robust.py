"""Middles and straight fits that outliers do not move."""

from __future__ import annotations

import numpy as np

ROUNDS = 20
FAR = 4.685
"""Deviations beyond which a value counts for nothing (Tukey's biweight, 95 % efficient)."""


def middle(values: np.ndarray) -> tuple[float, float]:
    """Where most values are, and the deviation of those about it.

    The median, then Tukey's biweight (Mosteller and Tukey, Data Analysis and Regression, 1977).

    >>> round(middle(np.array([1.0, 1.1, 0.9, 1.0, 9.0]))[0], 3)
    1.0
    """
    centre = np.median(values)
    spread = max(1.4826 * np.median(np.abs(values - centre)), 1e-4)
    for _ in range(ROUNDS):
        weight = biweight((values - centre) / spread)
        centre = (weight * values).sum() / weight.sum()
    return float(centre), float(spread)


def biweight(deviations: np.ndarray) -> np.ndarray:
    """Tukey's weights of values so many deviations away: 1 at none, 0 from `FAR` on."""
    return np.clip(1 - (deviations / FAR) ** 2, 0, None) ** 2
