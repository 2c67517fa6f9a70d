"""Plane perspective: how the plane of a chart lies in a photograph."""

import numpy as np


def homography(source: np.ndarray, target: np.ndarray) -> np.ndarray:
    """The plane perspective that takes points to others, with least algebraic error.

    Parameters
    ----------
    source, target : ndarray, shape (n, 2)
        Four or more, no three of the first four on one line.

    Returns
    -------
    ndarray, shape (3, 3)

    Notes
    -----
    The normalised direct linear transformation: R. Hartley, "In defense of the eight-point
    algorithm", IEEE PAMI 19 (1997).

    Examples
    --------
    >>> square = np.array([(0, 0), (1, 0), (1, 1), (0, 1)])
    >>> project(homography(square, 2 * square + 5), [(0.5, 0.25)]).round(6).tolist()
    [[6.0, 5.5]]
    """
    first, second = _normalisation(source), _normalisation(target)
    (x, y), (u, v) = project(first, source).T, project(second, target).T
    one, none = np.ones_like(x), np.zeros_like(x)
    rows = [
        np.stack([x, y, one, none, none, none, -u * x, -u * y, -u], axis=1),
        np.stack([none, none, none, x, y, one, -v * x, -v * y, -v], axis=1),
    ]
    matrix = np.linalg.svd(np.concatenate(rows))[2][-1].reshape(3, 3)
    return np.linalg.inv(second) @ matrix @ first


def _normalisation(points):
    """Moves points to the origin, at a mean distance of the root of 2."""
    middle = np.mean(points, axis=0)
    scale = np.sqrt(2) / np.hypot(*(points - middle).T).mean()
    return np.array([[scale, 0, -scale * middle[0]], [0, scale, -scale * middle[1]], [0, 0, 1]])


def project(matrix: np.ndarray, points: np.ndarray) -> np.ndarray:
    """Points, shape (..., 2), taken through a plane perspective."""
    points = np.asarray(points, dtype=np.float64)
    x, y, scale = np.moveaxis(points @ matrix[:, :2].T + matrix[:, 2], -1, 0)
    return np.stack([x / scale, y / scale], axis=-1)
