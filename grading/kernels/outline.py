"""Weights of drawn outlines and lines, for the pixels of a tile."""

import numpy as np

from grading.kernels.primitives import aligned, clamp, compiled, f32, fma, inner, smooth


def outline(
    y0: int, y1: int, x0: int, x1: int, points: np.ndarray, half: float, fade: float, filled: bool
) -> np.ndarray:
    """Weight by the distance to a line: 1/2 where it is `half`, whole nearer, none further.

    Parameters
    ----------
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.
    points : ndarray, shape (n, 2), float64
        (x, y) in pixels. Straight pieces from one to the next.
    half : float
        Pixels; the line is twice as wide. 0 where it is filled.
    fade : float
        Width of the fade in pixels, above 0.
    filled : bool
        Whether the line closes itself, the last point being the first, and what it encloses, an odd
        number of times, is whole.

    Returns
    -------
    ndarray, shape (y1 - y0, x1 - x0), float32 in 0..1
    """
    farthest = half + fade / 2
    squares = _squares((y1 - y0, x1 - x0), y0, x0, points, farthest)
    if filled:
        _fill(squares, y0, x0, points)
    _weigh(squares, f32(half / fade + 0.5), f32(-1 / fade))
    return squares


@compiled
def _squares(shape, y0, x0, points, farthest):
    """Square of the distance to the nearest piece, as far as it matters."""
    out = aligned(shape)
    rows, columns = shape
    for y in range(rows):
        for x in range(columns):
            out[y, x] = f32(farthest * farthest)
    for k in range(len(points) - 1):
        ax, ay, bx, by = points[k, 0], points[k, 1], points[k + 1, 0], points[k + 1, 1]
        left = max(int(np.floor(min(ax, bx) - farthest)) - x0, 0)
        right = min(int(np.ceil(max(ax, bx) + farthest)) + 1 - x0, columns)
        top = max(int(np.floor(min(ay, by) - farthest)) - y0, 0)
        bottom = min(int(np.ceil(max(ay, by) + farthest)) + 1 - y0, rows)
        length = (bx - ax) * (bx - ax) + (by - ay) * (by - ay)
        across, down = f32((bx - ax) / length), f32((by - ay) / length)
        for y in range(top, bottom):
            _nearer(
                out[y, left : max(left, right)], left + x0, f32(ax), f32(bx - ax), across,
                f32(y + y0) - f32(ay), f32(by - ay), down,
            )  # fmt: skip
    return out


@inner
def _nearer(row, start, ax, way_x, across, dy, way_y, down):
    """The lesser of what is there and the square of the distance to a piece."""
    for x in range(row.size):
        dx = f32(x + start) - ax
        share = clamp(fma(dx, across, dy * down), f32(0), f32(1))
        u, v = fma(-share, way_x, dx), fma(-share, way_y, dy)
        square = fma(u, u, v * v)
        row[x] = square if square < row[x] else row[x]


@compiled
def _fill(squares, y0, x0, points):
    """Turn the sign of all that is enclosed, from each crossing of a row on."""
    for y in range(squares.shape[0]):
        here = float(y + y0)
        for k in range(len(points) - 1):
            ay, by = points[k, 1], points[k + 1, 1]
            if (ay <= here) != (by <= here):
                share = (here - ay) / (by - ay)
                crossing = points[k, 0] + share * (points[k + 1, 0] - points[k, 0])
                start = min(max(int(np.ceil(crossing)) - x0, 0), squares.shape[1])
                _turn(squares[y, start:])


@inner
def _turn(row):
    for x in range(row.size):
        row[x] = -row[x]


@compiled
def _weigh(squares, middle, steep):
    """Weight of a square of distance, below 0 inside, in its place."""
    x = squares.ravel()
    for i in range(x.size):
        distance = np.sqrt(abs(x[i]))
        distance = -distance if x[i] < f32(0) else distance
        x[i] = smooth(fma(distance, steep, middle))
