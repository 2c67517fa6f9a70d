"""How far a frame leans: by upright lines, or by a sea horizon.

Shorelines, quays and eaves are in perspective, so they propose nothing; a sea horizon is level.
Where upright lines and a long straight line do not agree, one of them is not what it seems: what
stands on a boat leans with it, all alike, and the line may be the horizon. So only a sea that is
sure of itself is believed beside other lines.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from grading.frame import Noise
from grading.inspect.sea import Level, differ, find_levels
from grading.inspect.upright import Upright, agree
from grading.inspect.upright_lines import find_lines


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
    lines = find_lines(light, noise)
    return together(agree(lines), find_levels(light, noise, lines))


def together(upright: Upright | None, levels: Sequence[Level]) -> Lean | None:
    """The lean that upright lines and a sea horizon tell, each weighted by its variance.

    Parameters
    ----------
    upright : Upright or None
    levels : sequence of Level

    Returns
    -------
    Lean or None
        None where upright lines and a sea horizon, or any other straight line, do not agree.

    Examples
    --------
    >>> upright, sea = Upright(1.5, 0.1, 0.8, 12), Level(1.4, 0.05, 0.9)
    >>> lean = together(upright, [sea])
    >>> round(lean.straighten, 2), round(lean.deviation, 3), lean.sea
    (1.42, 0.045, True)
    >>> together(upright, [sea._replace(lean=0.5)]) is None
    True
    """
    seas = [level for level in levels if level.sea]
    horizon = min(seas, key=attrgetter("deviation"), default=None)
    if upright is None:
        return horizon and Lean(*horizon[:3], 0, True)
    if any(differ(*upright[:2], level) for level in ([horizon] if horizon else levels)):
        return None
    if horizon is None:
        return Lean(*upright)
    weights = np.array([upright.deviation, horizon.deviation]) ** -2.0
    mean = np.average([upright.straighten, horizon.lean], weights=weights)
    return Lean(
        float(mean), float(weights.sum() ** -0.5), max(upright.share, horizon.share),
        upright.lines, True,
    )  # fmt: skip
