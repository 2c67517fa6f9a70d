"""What blurred a frame: the zeros that a moving or an unfocused image leaves in its spectra.

The spectrum of a scene is smooth: about a power of the frequency (Field, JOSA A 4:2379, 1987), more
in some directions than in others. A shift of length L during the exposure multiplies it by
sinc²(L f) along its direction, and a circle of confusion of radius R by (2 J1(2 pi R f) / (2 pi R
f))²: both have zeros, which no scene has (Gennery, JOSA 63:1571, 1973, from memory). So a smooth
spectrum times each blur of a set, with the noise on top, is laid over the mean log spectrum of a
frame's windows, and the blur that leaves least is the one. Paths of a hand are bent: some of the
set are parabolas. What is drawn out but has no zeros, as fur is, is in the set too, so that it is
not taken for a shake.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from grading.inspect.blurs import FLOOR, POWER, frequencies, near, set_of
from grading.inspect.sharpness import softness
from grading.inspect.windows import Windows

QUIETEST = 0.05
"""Share of the frequencies that may be below the noise: it may be stated too low."""

EULER = 0.5772
"""By so much the mean logarithm of a periodogram is below the logarithm of its mean."""

DOUBTED = {"streaked": 0.85}
"""What a kind must leave of what another leaves to be preferred: noise hides zeros."""

KEPT, WORTH = 6, 0.92
"""Blurs of each kind that each estimate offers to be fitted with the noise; what they may leave of
what no blur leaves to be refined."""


@dataclass(frozen=True)
class Blur:
    """A blur and how well it explains the spectra.

    Attributes
    ----------
    kind : {"moved", "unfocused", "streaked"}
        The last is the texture of a scene.
    size : float
        Length of the path or radius of the circle, in pixels of the original.
    angle : float
        Of the path, degrees anticlockwise from the horizontal, 0..180.
    explains : float
        Share of what a smooth spectrum cannot explain that this blur does, up to 1.
    left : float
        Mean square, in log power, that neither explains.
    softness : float
        Blur of the sharpest places, along the path where it moved; see `sharpness`.
    zones : int
        Zones that show it, of those that can show anything.
    of_zones : int
    """

    kind: str
    size: float
    angle: float
    explains: float
    left: float
    softness: float
    zones: int
    of_zones: int


LEAST_MOVED, LEAST_UNFOCUSED = 5.6, 3.2
"""Pixels of the original from which a blur is taken for one; shorter ones look like a soft lens."""

SOFT = 0.7
"""Pixels of the original by which the sharpest places are soft, where a frame is blurred."""

EXPLAINS, LEFT, SHOWN = 0.12, 0.28, 0.8
"""What a blur must explain, may leave, and the share of the zones that must show it: a boat that
moves, or water in waves, does not fill a frame."""


def is_convincing(blur: Blur | None) -> bool:
    """Whether a blur is one of the whole frame, beyond doubt."""
    if blur is None or blur.kind == "streaked":
        return False
    least = LEAST_MOVED if blur.kind == "moved" else LEAST_UNFOCUSED
    return (
        blur.size >= least
        and blur.softness >= SOFT
        and blur.explains >= EXPLAINS
        and blur.left <= LEFT
        and blur.of_zones > 0
        and blur.zones >= SHOWN * blur.of_zones
    )


@cache
def _smooth():
    """Columns of a smooth log spectrum."""
    _, fx, fy = frequencies()
    f, angle = np.hypot(fx, fy), np.arctan2(-fy, fx)
    waves = [wave(n * angle) for n in (2, 4) for wave in (np.cos, np.sin)]
    return np.stack([np.ones_like(f), np.log(f), np.log(f) ** 2, f * f, *waves], 1)


def find_blur(windows: Windows) -> Blur | None:
    """The blur that explains the spectra of a frame best.

    Parameters
    ----------
    windows : Windows

    Returns
    -------
    Blur or None
        None where no blur of the set explains anything.
    """
    if len(windows) < 2:
        return None
    spectrum = _spectrum(windows)
    plain, smooth, rest = _fitted(spectrum, 0.0)
    found = [_best_of(kind, spectrum, smooth, rest, WORTH * plain) for kind in POWER]
    left, kind, parameters = min(found, key=lambda each: each[0] / DOUBTED.get(each[1], 1))
    if left >= plain:
        return None
    shown, asked = _zones_that_show(windows, kind, parameters)
    size = parameters[kind != "unfocused"] * windows.scale
    angle = parameters[0] % 180 if kind != "unfocused" else 0.0
    soft = softness(windows, angle if kind == "moved" else None)
    return Blur(kind, float(size), float(angle), 1 - left / plain, left, soft, shown, asked)


def _spectrum(windows):
    """Mean log of the power over that of the noise, or of the quietest frequencies."""
    used = frequencies()[0]
    power = np.maximum(windows.power[:, used], 1e-12)
    noise = np.maximum(windows.noise, 1e-9)[:, None]
    spectrum = np.log(power / noise).mean(0, dtype=np.float64) + EULER
    return spectrum - max(float(np.quantile(spectrum, QUIETEST)), 0.0)


def _best_of(kind, spectrum, smooth, rest, worth):
    """What the best of a kind leaves, the kind, and its parameters, refined if it is worth it."""
    parameters, logs = set_of(kind)
    few = _candidates(spectrum, smooth, rest, logs)
    best = min((_left(spectrum, logs[i].astype(np.float64)), parameters[i]) for i in few)
    for share in (0.5, 0.25, 0.12) if best[0] < worth else ():
        for beside in near(kind, best[1], share):
            log_power = np.log(POWER[kind](*beside) + FLOOR)
            best = min(best, (_left(spectrum, log_power), beside))
    return best[0], kind, best[1]


def _candidates(spectrum, smooth, rest, logs):
    """Numbers of the blurs that two estimates to first order take for the best.

    One lets the signal stand out from the noise and is right where it does; the other expands about
    the smooth spectrum and is right where the noise is as strong.

    Parameters
    ----------
    spectrum, smooth, rest : ndarray, shape (frequencies,)
        Log of what is there over the noise, log of the smooth signal over it, what that leaves.
    logs : ndarray, shape (n, frequencies)
        Log power of the blurs.
    """
    weight = np.clip(1 - np.exp(-spectrum), 0.02, 1)
    signal = np.log(np.maximum(np.exp(spectrum) - 1, 0.05))
    clear = (signal - logs) * weight
    with_noise = np.logaddexp(0, smooth)
    slope = 1 - np.exp(-with_noise)
    level = logs @ (slope / slope.sum()).astype(np.float32)
    noisy = rest + with_noise - np.log1p(np.exp(smooth) * np.exp(logs - level[:, None]))
    orders = (np.argsort(_outside(each, _smooth() * side[:, None]))[:KEPT]
              for each, side in ((clear, weight), (noisy, slope)))  # fmt: skip
    return dict.fromkeys(int(number) for order in orders for number in order)


def _outside(rows, columns):
    """Sum of squares of each row that columns do not span."""
    basis = np.linalg.qr(columns)[0].astype(np.float32)
    rows = rows.astype(np.float32)
    rows -= (rows @ basis) @ basis.T
    return (rows * rows).sum(1)


def _left(spectrum, log_power):
    """Mean square that a smooth spectrum times a blur, and noise, leave."""
    return _fitted(spectrum, log_power)[0]


def _fitted(spectrum, log_power):
    """The same, with the smooth log spectrum and the rest (Gauss-Newton)."""
    columns = _smooth()
    signal = np.log(np.maximum(np.exp(spectrum) - 1, 0.05)) - log_power
    weight = np.clip(1 - np.exp(-spectrum), 0.02, 1)[:, None]
    factors = _solve(columns * weight, signal * weight[:, 0])
    best = np.inf, None, None
    for _ in range(4):
        smooth = np.minimum(columns @ factors, 60)
        with_noise = np.logaddexp(0, smooth + log_power)
        rest = spectrum - with_noise
        if (left := float((rest * rest).mean())) < best[0]:
            best = left, smooth, rest
        slope = 1 - np.exp(-with_noise)
        factors = factors + _solve(columns * slope[:, None], rest)
    return best


def _solve(a, y):
    """Least squares with a little damping."""
    square = a.T @ a
    square[np.diag_indices_from(square)] *= 1 + 1e-6
    square[np.diag_indices_from(square)] += 1e-6
    return np.linalg.solve(square, a.T @ y)


def _zones_that_show(windows, kind, parameters):
    """How many zones a blur explains better than no blur, and how many can tell."""
    log_power = np.log(POWER[kind](*parameters) + FLOOR)
    shown = asked = 0
    for zone in np.unique(windows.zone):
        spectrum = _spectrum(windows.those(windows.zone == zone))
        if np.mean(spectrum > 1) < 0.05:
            continue
        asked += 1
        shown += _left(spectrum, log_power) < _left(spectrum, 0.0)
    return shown, asked
