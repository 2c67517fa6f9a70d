"""What lines that should be level, upright or parallel say of turn and keystone."""

from __future__ import annotations

import math

import numpy as np


def leaning(line: np.ndarray) -> float:
    """By how many degrees anticlockwise a line is to be turned, to be level or upright.

    Parameters
    ----------
    line : ndarray, shape (2, 2)
        [x, y] of two places, y downwards.

    Returns
    -------
    float
        Within 45 degrees.

    Examples
    --------
    >>> leaning(np.array([[0, 0], [10, 1]])), leaning(np.array([[0, 0], [1, 10]]))
    (5.710593137499643, -5.710593137499643)
    """
    x, y = (line[1] - line[0]).tolist()
    return math.degrees(math.atan(y / x if abs(x) >= abs(y) else -x / y))


def parallel(
    first: np.ndarray, second: np.ndarray, width: int, height: int
) -> tuple[float, float, float]:
    """Keystone and turn that make two lines parallel, and both upright or both level.

    With the keystone alone they run in the direction in which, before, they met as seen from the
    middle of the frame. Of all that make them parallel it is the least.

    Parameters
    ----------
    first, second : ndarray, shape (2, 2)
        [x, y] of two places each, in pixels from the middle of the frame, y downwards.
    width, height : int
        Of the frame.

    Returns
    -------
    horizontal, vertical : float
        Keystone, see `grading.framing.framing`.
    degrees : float

    Raises
    ------
    ValueError
        If one line is upright and the other level, both are the same, or they cross in the middle.

    Examples
    --------
    >>> left, right = np.array([[-50, 100], [-40, -100]]), np.array([[50, 100], [40, -100]])
    >>> [round(each, 4) for each in parallel(left, right, 300, 200)]
    [0.0, 0.1111, 0.0]
    """
    upright = {abs(x) < abs(y) for x, y in (first[1] - first[0], second[1] - second[0])}
    if len(upright) > 1:
        raise ValueError("one of the lines that should be parallel is upright, the other level")
    a, b = (np.cross(*np.column_stack([line, [1, 1]])) for line in (first, second))
    a, b = a / np.linalg.norm(a[:2]), b / np.linalg.norm(b[:2])
    x, y, far = np.cross(a, b).tolist()
    if math.hypot(x, y, far) < 1e-6:
        raise ValueError("the two lines that should be parallel are one and the same")
    if math.hypot(x, y) < 1e-9:
        raise ValueError("the two lines that should be parallel cross in the middle of the frame")
    if upright == {True}:
        degrees = math.degrees(math.atan2(-x, y) if y > 0 else math.atan2(x, -y))
    else:
        degrees = math.degrees(math.atan2(y, x) if x > 0 else math.atan2(-y, -x))
    lean = -far / (x * x + y * y)
    return 0.0 - lean * x * width / 2, 0.0 + lean * y * height / 2, 0.0 + degrees
