"""How one frame lies over another of the same place: turned, scaled and moved.

The frames are compared by what stands out of its surroundings in stops, so that neither exposure
nor the fall of light to the corners matters. A first guess comes from cross-correlation at a few
angles, the scale from the focal lengths; Gauss-Newton steps then refine all four numbers (Baker and
Matthews, Int. J. Computer Vision 56:221, 2004, inverse compositional).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

ANGLES = np.radians(np.arange(-5, 5.01, 1.0))
STEPS = 20
STRONGEST = 1.0
"""Stops of contrast beyond which a detail counts no more: lamps and edges of clipped places."""


class Placing(NamedTuple):
    """Where a point of the first frame lies in the second: ``m @ (x, y) + (tx, ty)`` about the
    middles of both, in pixels, with ``m = [[a, -b], [b, a]]``.
    """

    a: float
    b: float
    tx: float
    ty: float

    def back(self) -> Placing:
        """Where a point of the second frame lies in the first."""
        size = self.a**2 + self.b**2
        a, b = self.a / size, -self.b / size
        return Placing(a, b, b * self.ty - a * self.tx, -b * self.tx - a * self.ty)

    def then(self, other: Placing) -> Placing:
        """The placing in a third frame, given that of the third in the second."""
        x, y = other.a * self.tx - other.b * self.ty, other.b * self.tx + other.a * self.ty
        return Placing(
            other.a * self.a - other.b * self.b,
            other.a * self.b + other.b * self.a,
            x + other.tx,
            y + other.ty,
        )


def detail(light: np.ndarray) -> np.ndarray:
    """What stands out in green, in stops from the mean about it, shape (rows, columns)."""
    stops = np.log2(np.maximum(light[1], 1e-5))
    radius = max(4, max(stops.shape) // 24)
    return np.clip(stops - smoothed(stops, radius), -STRONGEST, STRONGEST)


def smoothed(plane: np.ndarray, radius: int) -> np.ndarray:
    """Means over (2 radius + 1) squares, edges continued; twice, so that they have no corners."""
    for _ in range(2):
        for axis in (0, 1):
            padded = np.pad(plane, [(radius + 1, radius) if a == axis else (0, 0) for a in (0, 1)],
                            mode="edge")  # fmt: skip
            sums = np.cumsum(padded, axis=axis, dtype=np.float64)
            size = 2 * radius + 1
            ahead = np.take(sums, range(size, sums.shape[axis]), axis=axis)
            plane = (ahead - np.take(sums, range(sums.shape[axis] - size), axis=axis)) / size
    return plane


def place(first: np.ndarray, second: np.ndarray, scale: float) -> Placing:
    """A first guess of how the first frame's detail lies in the second's.

    Parameters
    ----------
    first, second : ndarray, shape (rows, columns)
        From `detail`.
    scale : float
        How much larger things are in the second: the ratio of the focal lengths.
    """
    size = [int(2 ** np.ceil(np.log2(n))) for n in np.maximum(first.shape, second.shape)]
    target = np.conj(np.fft.rfft2(_windowed(first, size)))
    best, found = -1.0, None
    for angle in ANGLES:
        a, b = scale * np.cos(angle), scale * np.sin(angle)
        turned, inside = warped(second, Placing(a, b, 0, 0), first.shape)
        product = target * np.fft.rfft2(_windowed(turned * inside, size))
        peaks = np.fft.irfft2(product, size)
        y, x = np.unravel_index(np.argmax(peaks), peaks.shape)
        if peaks[y, x] > best:
            dy, dx = (v - n if v > n // 2 else v for v, n in zip((y, x), size, strict=True))
            best, found = peaks[y, x], Placing(a, b, a * dx - b * dy, b * dx + a * dy)
    return found


def _windowed(plane, size):
    rows, columns = plane.shape
    window = np.hanning(rows)[:, None] * np.hanning(columns)
    out = np.zeros(size)
    out[:rows, :columns] = plane * window
    return out


def refine(first: np.ndarray, second: np.ndarray, start: Placing) -> tuple[Placing, float]:
    """A placing made exact, and how well the two then agree, as their correlation in -1..1."""
    slopes, placing, reach = _slopes(first).reshape(4, -1), start, max(first.shape) / 2
    for _ in range(STEPS):
        moved, inside = warped(second, placing, first.shape)
        error = (moved - first).ravel()
        weighted = slopes * (inside.ravel() / (1 + (error / 0.3) ** 2))
        normal = weighted @ slopes.T
        held = (1e-6 * np.trace(normal) + 1e-9) * np.eye(4)
        a, b, tx, ty = np.linalg.solve(normal + held, weighted @ error)
        placing = Placing(1 + a, b, tx, ty).back().then(placing)
        if max(abs(tx), abs(ty), reach * abs(a), reach * abs(b)) < 0.02:
            break
    return placing, _correlation(first, *warped(second, placing, first.shape))


def _slopes(plane):
    """By how much a plane changes as it is scaled, turned, moved along x and along y."""
    rows, columns = plane.shape
    y, x = np.mgrid[:rows, :columns]
    x, y = x - (columns - 1) / 2, y - (rows - 1) / 2
    gy, gx = np.gradient(plane)
    return np.stack([gx * x + gy * y, gy * x - gx * y, gx, gy])


def _correlation(first, second, inside):
    if inside.sum() < 100:
        return -1.0
    u, v = first[inside], second[inside]
    u, v = u - u.mean(), v - v.mean()
    return float((u * v).sum() / max(np.sqrt((u * u).sum() * (v * v).sum()), 1e-12))


def warped(plane: np.ndarray, placing: Placing, shape: tuple[int, int]):
    """The second frame as the first sees it (bilinear), and where it has pixels.

    Parameters
    ----------
    plane : ndarray, shape (..., rows, columns)
    placing : Placing
    shape : tuple of int
        Of the first frame.

    Returns
    -------
    ndarray, shape (..., rows, columns)
    ndarray, shape (rows, columns), bool
    """
    rows, columns = plane.shape[-2:]
    y, x = np.mgrid[: shape[0], : shape[1]]
    x, y = x - (shape[1] - 1) / 2, y - (shape[0] - 1) / 2
    a, b, tx, ty = placing
    u = a * x - b * y + tx + (columns - 1) / 2
    v = b * x + a * y + ty + (rows - 1) / 2
    inside = (u >= 0) & (u <= columns - 1) & (v >= 0) & (v <= rows - 1)
    left = np.clip(np.floor(u), 0, columns - 2).astype(int)
    top = np.clip(np.floor(v), 0, rows - 2).astype(int)
    fx, fy = np.clip(u - left, 0, 1), np.clip(v - top, 0, 1)
    above = plane[..., top, left] * (1 - fx) + plane[..., top, left + 1] * fx
    below = plane[..., top + 1, left] * (1 - fx) + plane[..., top + 1, left + 1] * fx
    return above * (1 - fy) + below * fy, inside
