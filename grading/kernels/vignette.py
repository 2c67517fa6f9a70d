"""How light falls off towards the corners of a frame."""

from collections.abc import Sequence

import numpy as np

from grading.kernels.primitives import aligned, compiled, exp2, f32, fma, inner, log2, smooth

LEAST = f32(2.0**-15)
"""Replaces any shorter way, so that no power of it is too small for single precision."""

NEAR = f32(1e-30)
"""Power of a distance that replaces any less, so that it has a logarithm."""


def fall_off(
    lab: np.ndarray,
    y0: int,
    y1: int,
    x0: int,
    x1: int,
    centre: Sequence[float],
    axes: np.ndarray,
    power: float,
    start: float,
    stops: float,
) -> np.ndarray:
    """(L, a, b) of Oklab times a factor, the cube root of one on light.

    Parameters
    ----------
    lab : ndarray, shape (3, y1 - y0, x1 - x0), float32
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.
    centre : sequence of 2 floats
        (x, y) of the middle in pixels.
    axes : ndarray, shape (2, 2)
        Takes a way of x and y pixels from the middle to (x, y) of the form, which has a distance
        of 1 at its edge.
    power : float
        The distance is (|x|^power + |y|^power)^(1/power), a curve of Lamé.
    start : float
        Up to this distance the factor is 1.
    stops : float
        Of light at a distance of 1, the fade to which has no kink at either end.

    Returns
    -------
    ndarray, shape (3, y1 - y0, x1 - x0), float32

    Examples
    --------
    >>> row = np.ones((3, 1, 11), np.float32)
    >>> out = fall_off(row, 0, 1, 0, 11, (0, 0), 0.1 * np.eye(2), 2.0, 0.5, -3.0)
    >>> out[0, 0, ::5].round(6).tolist()
    [1.0, 1.0, 0.5]
    """
    x, y = np.arange(x0, x1) - centre[0], np.arange(y0, y1) - centre[1]
    (across_by_x, across_by_y), (down_by_x, down_by_y) = axes
    ways = [x * across_by_x, y * across_by_y, x * down_by_x, y * down_by_y]
    return _fall_off(
        lab, *(way.astype(np.float32) for way in ways), f32(power), f32(start),
        f32(1 / (1 - start)), f32(stops / 3),
    )  # fmt: skip


@compiled
def _fall_off(lab, u_by_x, u_by_y, v_by_x, v_by_y, power, start, steep, stops):
    out, far, factor = aligned(lab.shape), aligned((u_by_x.size,)), aligned((u_by_x.size,))
    for y in range(u_by_y.size):
        if power == f32(2):
            _distance(u_by_x, u_by_y[y], v_by_x, v_by_y[y], far)
        else:
            _distance_by(power, u_by_x, u_by_y[y], v_by_x, v_by_y[y], far)
        for x in range(factor.size):
            factor[x] = exp2(stops * smooth((far[x] - start) * steep))
        for c in range(3):
            row, target = lab[c, y], out[c, y]
            for x in range(target.size):
                target[x] = row[x] * factor[x]
    return out


@inner
def _distance(u_by_x, u, v_by_x, v, out):
    for x in range(out.size):
        across, down = u_by_x[x] + u, v_by_x[x] + v
        out[x] = np.sqrt(fma(across, across, down * down))


@inner
def _distance_by(power, u_by_x, u, v_by_x, v, out):
    root = f32(1) / power
    for x in range(out.size):
        across, down = abs(u_by_x[x] + u), abs(v_by_x[x] + v)
        far = exp2(power * log2(across if across > LEAST else LEAST))
        far += exp2(power * log2(down if down > LEAST else LEAST))
        out[x] = exp2(root * log2(far if far > NEAR else NEAR))
