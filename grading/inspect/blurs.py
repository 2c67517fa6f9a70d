"""The set of blurs that a frame's spectra are held against, as the power that each leaves."""

from functools import cache

import numpy as np

from grading.inspect.windows import SIDE

TURN, LONGER, WIDER = 7.5, 1.12, 1.08
"""Steps of the set: degrees of a path, factors of its length and of a radius."""

ANGLES = np.arange(0.0, 180.0, TURN)
LENGTHS = 2.2 * LONGER ** np.arange(20)
BENDS = (0.0, 0.65)
RADII = 1.1 * WIDER ** np.arange(28)
"""The set of blurs, in pixels of a window; a bend is the height of a parabola over its length,
times four."""

LOWEST, HIGHEST = 2.5 / SIDE, 0.46
"""Frequencies used, cycles a pixel; below, the window itself smears them."""

FLOOR = 0.004
"""What is left of the power where a blur has a zero, because the window smears it."""


@cache
def frequencies():
    """Frequencies that are used, x and y in cycles a pixel."""
    fy, fx = np.meshgrid(np.fft.fftfreq(SIDE), np.fft.rfftfreq(SIDE), indexing="ij")
    f, row = np.hypot(fx, fy), np.rint(SIDE * (fx + fy)).astype(int)
    beside_axes = np.minimum(np.abs(fx), np.abs(fy)) > 1.5 / SIDE
    used = (f > LOWEST) & (f < HIGHEST) & beside_axes & (fx < 0.5) & (row % 2 == 0)
    return used, fx[used], fy[used]


def _moved(angle, length, bend):
    """Power that a path leaves at the frequencies."""
    _, fx, fy = frequencies()
    turn = np.radians(angle)
    along = fx * np.cos(turn) - fy * np.sin(turn)
    if not bend:
        return np.sinc(length * along) ** 2
    across = -fx * np.sin(turn) - fy * np.cos(turn)
    t = (np.arange(32) + 0.5) / 32 - 0.5
    phase = 2 * np.pi * length * (np.outer(along, t) + np.outer(across, bend * t * t))
    return np.cos(phase).mean(1) ** 2 + np.sin(phase).mean(1) ** 2


def _unfocused(radius):
    """Power that a circle of confusion leaves; J1 by its integral, Abramowitz and Stegun 9.1.20."""
    _, fx, fy = frequencies()
    s = (np.arange(48) + 0.5) / 48 * 2 - 1
    weight = np.sqrt(1 - s * s)
    phase = 2 * np.pi * radius * np.outer(np.hypot(fx, fy), s)
    return (np.cos(phase) @ weight / weight.sum()) ** 2


def _streaked(angle, length, _bend):
    """Power of a texture that is drawn out along a direction, as fur is, of the same deviation."""
    _, fx, fy = frequencies()
    along = fx * np.cos(np.radians(angle)) - fy * np.sin(np.radians(angle))
    return np.exp(-((2 * np.pi * length * along) ** 2) / 12)


POWER = {"moved": _moved, "unfocused": _unfocused, "streaked": _streaked}


@cache
def set_of(kind):
    """Parameters of each blur of a kind, and the log of its power, shape (n, frequencies)."""
    if kind == "unfocused":
        each = [(radius,) for radius in RADII]
    elif kind == "streaked":
        each = [(a, n, 0.0) for a in ANGLES for n in LENGTHS]
    else:
        each = [(a, n, b) for b in BENDS for a in ANGLES for n in LENGTHS]
    power = np.array([POWER[kind](*one) for one in each], np.float32)
    return each, np.log(power + np.float32(FLOOR))


def near(kind, parameters, share):
    """Blurs beside one, by so much of a step of the set."""
    if kind == "unfocused":
        return [(parameters[0] * WIDER**step,) for step in (-share, share)]
    angle, length, bend = parameters
    return [
        (angle + TURN * turn, length * LONGER**step, bend)
        for turn in (-share, 0, share) for step in (-share, 0, share)
    ]  # fmt: skip
