"""Runs of what is marked in a grid, so that loops pass over the rest."""

import numpy as np


def runs(marked, part):
    """Runs of whole parts of which any place is marked, along rows.

    Parameters
    ----------
    marked : ndarray, shape (rows, columns), bool
    part : int
        Places of a part; so runs are neither too many nor too short. The last of a row may have
        fewer.

    Returns
    -------
    ndarray, shape (runs, 3), int64
        The row of each, its first column, and that after its last.

    >>> runs(np.array([[0, 0, 0, 1, 1], [1, 0, 0, 0, 0]], bool), 2).tolist()
    [[0, 2, 5], [1, 0, 2]]
    """
    rows, columns = marked.shape
    parts = np.pad(marked, ((0, 0), (0, -columns % part)))
    parts = parts.reshape(rows, -1, part).any(2).astype(np.int8)
    row, ends = np.nonzero(np.diff(np.pad(parts, ((0, 0), (1, 1)))))
    first, end = (ends * part).reshape(-1, 2).T
    return np.stack((row[::2], first, np.minimum(end, columns)), axis=1)
