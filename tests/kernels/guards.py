"""Arrays between guard bands, so that a read or a write beyond a picture is noticed."""

import numpy as np

BAND = 2048
"""Elements before and after an array."""

ODD_SHAPES = (
    *sorted({shape for n in range(1, 18) for shape in ((1, n), (n, 1), (n, n), (n, 18 - n))}),
    *((3, columns) for columns in (31, 32, 33, 63, 64, 65)),
    *((1, columns) for columns in (511, 512, 513, 1023, 1024, 1025, 2049, 4095, 4096, 4097)),
)
"""Rows and columns: from a single pixel to more than a vector, and about the lengths of the runs
that kernels take at a time."""


def guarded(work, *arrays):
    """What `work` makes of arrays, which it is held to keep to.

    It is given copies of them between bands of some value, once for each of several values. A
    write beyond an array changes a band, and what is read beyond one changes the result.

    Parameters
    ----------
    work : callable
        Gives arrays, one or more, or None.
    arrays : ndarray
        May be changed in place.

    Returns
    -------
    list of ndarray
        What `work` gave, and then the arrays as they are afterwards.
    """
    rounds = [_between_bands(work, arrays, which) for which in range(3)]
    for other in rounds[1:]:
        for first, again in zip(rounds[0], other, strict=True):
            np.testing.assert_array_equal(again, first, "something beyond an array was read")
    return rounds[0]


def _between_bands(work, arrays, which):
    band = [np.full(BAND, _value(array.dtype, which)) for array in arrays]
    memories = [np.concatenate([b, a.ravel(), b]) for a, b in zip(arrays, band, strict=True)]
    inside = [m[BAND:-BAND].reshape(a.shape) for m, a in zip(memories, arrays, strict=True)]
    made = work(*inside)
    for memory, b in zip(memories, band, strict=True):
        kept = memory[:BAND].tobytes() == memory[-BAND:].tobytes() == b.tobytes()
        assert kept, "something beyond an array was written"
    made = made if isinstance(made, tuple) else () if made is None else (made,)
    return [*made, *inside]


def _value(kind, which):
    """A value that would show: far too low, far too high, or no number."""
    if kind.kind == "f":
        return kind.type((-1e30, 1e30, np.nan)[which])
    limits = np.iinfo(kind)
    return kind.type((limits.min, limits.max, limits.max // 3)[which])
