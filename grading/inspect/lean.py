"""How far a frame leans: by upright lines, or by a sea horizon.

Shorelines and quays are in perspective and say little, so they are not asked; a sea horizon is
level. Where upright lines and the sea both speak and do not agree, one of them is not what it
seems: a boat's own masts lean with it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.sea import Horizon, find_horizon
from grading.inspect.upright import Upright, find_upright

APART = 0.3
"""Degrees by which upright lines and a sea horizon may differ, or three of their deviations."""


class Lean(NamedTuple):
    """How far a frame leans.

    Attributes
    ----------
    straighten : float
        Degrees by which the picture is to be turned anticlockwise.
    deviation : float
        Its standard deviation, in degrees.
    confidence : float
        Share of all nearly upright lines that agrees, or of the width over which a sea horizon is
        seen, 0..1; the greater of both.
    lines : int
        How many upright lines agree.
    sea : bool
        Whether a sea horizon tells it, alone or with these.
    """

    straighten: float
    deviation: float
    confidence: float
    lines: int
    sea: bool = False


def find_lean(light: np.ndarray, noise: Noise) -> Lean | None:
    """The lean of a frame.

    Parameters
    ----------
    light : ndarray, shape (rows, columns), float32
        Linear, 1 at white; a few hundred rows are enough.
    noise : Noise
        Of a pixel of it.

    Returns
    -------
    Lean or None
        None where too few lines agree and no sea horizon is sure, or where these differ.
    """
    return together(find_upright(light, noise), find_horizon(light, noise))


def together(upright: Upright | None, horizon: Horizon | None) -> Lean | None:
    """The lean that upright lines and a sea horizon tell, each weighted by its variance.

    Returns
    -------
    Lean or None
        None where both tell one, and not the same.

    Examples
    --------
    >>> lean = together(Upright(1.5, 0.1, 0.8, 12), Horizon(1.4, 0.05, 0.9))
    >>> round(lean.straighten, 2), round(lean.deviation, 3), lean.sea
    (1.42, 0.045, True)
    >>> together(Upright(1.5, 0.1, 0.8, 12), Horizon(0.5, 0.05, 0.9)) is None
    True
    """
    if horizon is None:
        return upright and Lean(*upright)
    if upright is None:
        return Lean(*horizon[:3], 0, True) if horizon.sure else None
    apart = abs(upright.straighten - horizon.lean)
    if apart > max(APART, 3 * np.hypot(upright.deviation, horizon.deviation)):
        return None
    if not horizon.sure:
        return Lean(*upright)
    weights = np.array([upright.deviation, horizon.deviation]) ** -2.0
    mean = np.average([upright.straighten, horizon.lean], weights=weights)
    return Lean(
        float(mean), float(weights.sum() ** -0.5), max(upright.share, horizon.share),
        upright.lines, True,
    )  # fmt: skip
