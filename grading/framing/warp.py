"""The distortion of a lens, as a map from a plane without it to the frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ROUNDS = 40
"""Steps of the search for what a place is without distortion; each leaves a tenth or less."""


@dataclass(frozen=True)
class Warp:
    """Where light that belongs at a place lies in the frame.

    With d the way from the centre to a place, in units of the way from the centre to the corner of
    the frame that is farthest from it, and r its length, the light is found at

        d (k0 + k1 r^2 + k2 r^4 + k3 r^6) + (t0 2 dx dy + t1 (r^2 + 2 dx^2),
                                             t1 2 dx dy + t0 (r^2 + 2 dy^2))

    from the centre (WarpRectilinear of the DNG specification, one plane; the model is that of
    Brown, Photogrammetric Engineering 32:444, 1966).

    Attributes
    ----------
    radial : tuple of four float
        k0 to k3.
    tangential : (float, float)
        t0 and t1.
    centre : (float, float)
        In fractions of the frame.

    Examples
    --------
    >>> x, y = Warp((1.0, -0.1, 0.0, 0.0)).to_frame(400.0, 0.0, 600, 400)
    >>> round(x.item(), 2), round(y.item(), 2)
    (396.15, 7.69)
    """

    radial: tuple[float, float, float, float] = (1.0, 0.0, 0.0, 0.0)
    tangential: tuple[float, float] = (0.0, 0.0)
    centre: tuple[float, float] = (0.5, 0.5)

    def to_frame(
        self, x: np.ndarray, y: np.ndarray, width: int, height: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """Places of the frame for places without distortion, both in pixels from the top left."""
        cx, cy, unit = self._measures(width, height)
        dx, dy = (np.asarray(x) - cx) / unit, (np.asarray(y) - cy) / unit
        r2, both = dx * dx + dy * dy, 2 * dx * dy
        k0, k1, k2, k3 = self.radial
        factor = k0 + r2 * (k1 + r2 * (k2 + r2 * k3))
        t0, t1 = self.tangential
        across = dx * factor + t0 * both + t1 * (r2 + 2 * dx * dx)
        down = dy * factor + t1 * both + t0 * (r2 + 2 * dy * dy)
        return cx + unit * across, cy + unit * down

    def from_frame(
        self, x: np.ndarray, y: np.ndarray, width: int, height: int
    ) -> tuple[np.ndarray, np.ndarray]:
        """Places without distortion for places of the frame, by repeated correction."""
        u, v = np.array(x, np.float64), np.array(y, np.float64)
        for _ in range(ROUNDS):
            found = self.to_frame(u, v, width, height)
            u, v = u + (x - found[0]), v + (y - found[1])
        return u, v

    def _measures(self, width, height):
        cx, cy = self.centre[0] * width, self.centre[1] * height
        return cx, cy, np.hypot(max(cx, width - cx), max(cy, height - cy))
