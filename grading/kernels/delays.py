"""Weights that move pixels by a fraction of one: fractional delays, as signals know them."""

import numpy as np

TAPS = 6
STEPS = 256
"""Places between two pixels for which weights are held."""

BAND = 0.7
"""Share of the highest frequency up to which a shift is to lose as little as it can; ours."""


def _weights():
    """Weights of six taps, from two pixels before, at places from half a pixel before to one and a
    half after.

    Least squares over a band of frequencies (Laakso, Valimaki, Karjalainen and Laine, IEEE Signal
    Processing Magazine 13(1):30, 1996; from memory), among the weights that leave a slope as it is.
    """
    taps = np.arange(TAPS) - 2.0
    place = np.arange(-STEPS // 2, STEPS + STEPS // 2 + 1) / STEPS
    squares = np.zeros((TAPS + 2, TAPS + 2))
    squares[:TAPS, :TAPS] = np.sinc(BAND * (taps[:, None] - taps))
    squares[TAPS:, :TAPS] = np.stack([np.ones(TAPS), taps])
    squares[:TAPS, TAPS:] = squares[TAPS:, :TAPS].T
    wanted = np.sinc(BAND * (place[:, None] - taps))
    wanted = np.hstack([wanted, np.ones((place.size, 1)), place[:, None]])
    weights = np.linalg.solve(squares, wanted.T)[:TAPS]
    return np.ascontiguousarray(weights.T, np.float32)


WEIGHTS = _weights()
"""Shape (places, `TAPS`), float32."""
