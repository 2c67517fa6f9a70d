"""Errors of a lens in numbers: distortion, lateral colour and falloff of light, about a centre.

Places are relative to the upright, uncropped frame: a centre in fractions of its width and height,
a unit of length in fractions of its long edge. So the same numbers serve a smaller version of it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

MAP_SIDE = 129
"""Nodes a side of a map of gains, from edge to edge of the frame."""

ROUNDS = 40
"""Steps, at most, of the search for what a place is without distortion; each leaves a third or
less."""

FOUND = 1e-9
"""Pixels of a step after which that search ends."""


@dataclass(frozen=True)
class Warp:
    """Where a lens recorded what it should have recorded at a place.

    With p the place from the centre, in units, r = \\|p\\| and t the tangential coefficients,
    p f(r) + 2 (t . p) p + r^2 t, where f(r) is the sum of radial[i] r^i (Brown, Photogrammetric
    Engineering 32:444, 1966; from memory).

    Attributes
    ----------
    centre : tuple of two float
    unit : float
    radial : tuple of float
    tangential : tuple of two float
        Across and down.
    """

    centre: tuple[float, float]
    unit: float
    radial: tuple[float, ...] = (1.0,)
    tangential: tuple[float, float] = (0.0, 0.0)

    def to_frame(
        self, x: np.ndarray, y: np.ndarray, width: int, height: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """Where places were recorded, in pixels from the corner of the frame.

        Parameters
        ----------
        x, y : ndarray
            In pixels; the middle of the first one is (0.5, 0.5).
        width, height : int
            Of the frame.

        Examples
        --------
        >>> warp = Warp((0.5, 0.5), 0.5, (1.0, 0.0, 0.1))
        >>> [round(float(each), 6) for each in warp.to_frame(100.0, 25.0, 100, 50)]
        [105.0, 25.0]
        """
        unit = self.unit * max(width, height)
        across, down = self.centre[0] * width, self.centre[1] * height
        u, v = (np.asarray(x) - across) / unit, (np.asarray(y) - down) / unit
        square = u * u + v * v
        factor = _series(square, self.radial[::2])
        if any(self.radial[1::2]):
            factor = factor + np.sqrt(square) * _series(square, self.radial[1::2])
        s, t = self.tangential
        if s or t:
            factor = factor + 2 * (s * u + t * v)
            u, v = u * factor + square * s, v * factor + square * t
        else:
            u, v = u * factor, v * factor
        return across + u * unit, down + v * unit

    def from_frame(
        self, x: np.ndarray, y: np.ndarray, width: int, height: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """Where what was recorded at places should have been, by repeated correction.

        Examples
        --------
        >>> warp = Warp((0.5, 0.5), 0.5, (1.0, 0.0, 0.1))
        >>> [round(float(each), 6) for each in warp.from_frame(105.0, 25.0, 100, 50)]
        [100.0, 25.0]
        """
        u, v = np.array(x, np.float64), np.array(y, np.float64)
        for _ in range(ROUNDS):
            there = self.to_frame(u, v, width, height)
            across, down = x - there[0], y - there[1]
            u, v = u + across, v + down
            if max(np.abs(across).max(), np.abs(down).max()) < FOUND:
                break
        return u, v

    def shared(self, share: float) -> Warp:
        """The warp that moves each place by a share of the way.

        >>> Warp((0.5, 0.5), 1.0, (1.0, 0.0, 0.2)).shared(0.5).radial
        (1.0, 0.0, 0.1)
        """
        radial = [share * each for each in self.radial]
        radial[0] += 1 - share
        return replace(
            self, radial=tuple(radial), tangential=tuple(share * t for t in self.tangential)
        )


def _series(x, coefficients):
    """The sum of coefficients[i] x^i."""
    total = np.full_like(x, coefficients[-1])
    for each in coefficients[-2::-1]:
        total = total * x + each
    return total


@dataclass(frozen=True)
class Falloff:
    """How light falls off from the centre: at r units, it is `fall(r) / gain(r)` of what it was.

    Both are 1 plus the sum of their coefficients times r^2, r^4 and so on.

    Attributes
    ----------
    centre : tuple of two float
    unit : float
    gain, fall : tuple of float
        At most five each.
    """

    centre: tuple[float, float]
    unit: float
    gain: tuple[float, ...] = ()
    fall: tuple[float, ...] = ()

    def correction(self, r: np.ndarray) -> np.ndarray:
        """What undoes it: a factor on light, at so many units from the centre.

        >>> float(Falloff((0.5, 0.5), 0.5, fall=(-0.5,)).correction(1.0))
        2.0
        """
        square = np.square(np.asarray(r, np.float64))
        return _series(square, (1.0, *self.gain)) / _series(square, (1.0, *self.fall))


@dataclass(frozen=True)
class Optics:
    """What is known of the lens of a frame; None where nothing is.

    Attributes
    ----------
    distortion : Warp or None
        Of green.
    red, blue : Warp or None
        Lateral colour: where red and blue were recorded of what green recorded at a place.
    falloff : Falloff or None
    gains : ndarray, shape (3, MAP_SIDE, MAP_SIDE), float32, or None
        Factors on red, green and blue from edge to edge of the frame, both included.
    """

    distortion: Warp | None = None
    red: Warp | None = None
    blue: Warp | None = None
    falloff: Falloff | None = None
    gains: np.ndarray | None = field(default=None, repr=False, compare=False)

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing to correct."""
        return all(value is None for value in vars(self).values())

    def sound(self, width: int, height: int) -> Optics:
        """Only what is within what a lens can do to a frame of some size.

        Light falls to no less than 1/64 and rises to no more than 4 times; nothing is recorded
        inside of what should be nearer to the centre, or more than twice as far out as it should.
        """
        kept = {
            name: error if error is None or is_sound(error, width, height) else None
            for name, error in vars(self).items()
        }
        return Optics(**kept)


def is_sound(error: Warp | Falloff | np.ndarray, width: int, height: int) -> bool:
    """Whether an error is one that `Optics.sound` keeps."""
    if isinstance(error, np.ndarray):
        return 1 / 4 <= error.min() and error.max() <= 64
    r = np.linspace(0, farthest(error.centre, width, height) / error.unit, 257)[1:]
    if isinstance(error, Falloff):
        factors = error.correction(r)
        return 1 / 4 <= factors.min() and factors.max() <= 64
    factors = _series(r, error.radial)
    return np.diff(r * factors).min() > 0 and factors.max() <= 2 and np.hypot(*error.tangential) < 1


def farthest(centre: tuple[float, float], width: int, height: int) -> float:
    """Distance from a centre to the farthest corner of a frame, as a share of its long edge.

    >>> farthest((0.5, 0.5), 8, 6)
    0.625
    """
    far = np.maximum(centre, np.subtract(1, centre)) * (width, height)
    return float(np.hypot(*far) / max(width, height))


def lateral(colour: Warp, green: Warp) -> Warp:
    """Where a colour was recorded, from where green was, of two warps about one centre.

    The ratio of their radial parts as a function of green's recorded radius, by least squares over
    the frame: six powers keep to a few thousandths of a pixel. Of the tangential parts, which
    differ little, the difference is taken.
    """
    r = np.linspace(0, 1.1, 257)[1:]
    own, other = (_series(r, warp.radial) for warp in (colour, green))
    place = r * other
    powers = place[:, None] ** np.arange(6)
    radial = np.linalg.lstsq(powers, own / other, rcond=None)[0]
    tangential = np.subtract(colour.tangential, green.tangential)
    return replace(green, radial=tuple(radial.tolist()), tangential=tuple(tangential.tolist()))


def before_warp(falloff: Falloff, warp: Warp) -> Falloff:
    """A falloff stated for the corrected frame, as it is in the recorded one."""
    unit = warp.unit / falloff.unit
    r = np.linspace(0, 1, 257)
    gain = falloff.correction(r * unit) - 1
    place = np.square(r * _series(r, warp.radial))
    powers = place[:, None] ** np.arange(1, 6)
    fitted = np.linalg.lstsq(powers, gain, rcond=None)[0]
    return Falloff(warp.centre, warp.unit, gain=tuple(fitted.tolist()))
