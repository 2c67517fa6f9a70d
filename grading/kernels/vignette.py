"""How light falls off towards the corners of a frame."""

from collections.abc import Sequence

import numpy as np

from grading.kernels.primitives import aligned, compiled, exp2, f32, log2, smooth

NEAR = f32(1e-30)
"""Power of a distance that replaces any less, so that it has a logarithm."""


def falloff(
    y0: int,
    y1: int,
    x0: int,
    x1: int,
    centre: Sequence[float],
    per_pixel: Sequence[float],
    power: float,
    start: float,
    stops: float,
) -> np.ndarray:
    """Factor on (L, a, b) of Oklab, the cube root of a factor on light.

    Parameters
    ----------
    y0, y1, x0, x1 : int
        Rows and columns of the tile in the frame.
    centre, per_pixel : sequence of 2 floats
        (x, y) of the middle in pixels, and what a pixel makes of a distance of 1, each way.
    power : float
        The distance is (|x|^power + |y|^power)^(1/power), a curve of Lamé.
    start : float
        Up to this distance the factor is 1.
    stops : float
        Of light at a distance of 1, the fade to which has no kink at either end.

    Returns
    -------
    ndarray, shape (y1 - y0, x1 - x0), float32

    Examples
    --------
    >>> falloff(0, 1, 0, 11, (0, 0), (0.1, 0.1), 2.0, 0.5, -3.0)[0, ::5].round(6).tolist()
    [1.0, 1.0, 0.5]
    """
    across = (np.abs(np.arange(x0, x1) - centre[0]) * per_pixel[0]) ** power
    down = (np.abs(np.arange(y0, y1) - centre[1]) * per_pixel[1]) ** power
    return _falloff(
        across.astype(np.float32), down.astype(np.float32), f32(1 / power), f32(start),
        f32(1 / (1 - start)), f32(stops / 3),
    )  # fmt: skip


@compiled
def _falloff(across, down, root, start, steep, stops):
    out = aligned((down.size, across.size))
    for y in range(down.size):
        row, high = out[y], down[y]
        for x in range(row.size):
            far = high + across[x]
            far = exp2(root * log2(far if far > NEAR else NEAR))
            row[x] = exp2(stops * smooth((far - start) * steep))
    return out
