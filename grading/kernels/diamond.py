"""The diamond angle: a cheap stand-in for the angle of a point about the origin.

With d = |a| + |b| it is 1 - a / d above the axis and 3 + a / d below, running from 0 to 4 once
around. It needs one division where an arc tangent needs a polynomial and branches, and since
tables are laid out in it, nothing is lost.
"""

import numpy as np


def diamond_degrees(steps: int) -> np.ndarray:
    """True angle in degrees, 0..360, at even steps of the diamond angle.

    Parameters
    ----------
    steps : int
        Steps once around.

    Returns
    -------
    ndarray, shape (steps + 1,), float64
        The last is 360.

    Examples
    --------
    >>> diamond_degrees(8).round(6).tolist()
    [0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0, 360.0]
    """
    u = np.linspace(0, 4, steps + 1)
    a = np.where(u < 2, 1 - u, u - 3)
    b = np.where(u < 2, 1, -1) * (1 - np.abs(a))
    degrees = np.degrees(np.arctan2(b, a)) % 360
    degrees[-1] = 360
    return degrees
