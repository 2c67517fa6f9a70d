"""Cutting a picture into parts, for tests that the parts agree with the whole."""

import numpy as np

PIECES = ((7, 13), (1, 64), (16, 16))


def cuts(rows, columns, shape):
    """(y0, y1, x0, x1) of the pieces, in no particular order."""
    corners = [(y, x) for y in range(0, rows, shape[0]) for x in range(0, columns, shape[1])]
    for y, x in reversed(corners):
        yield y, min(y + shape[0], rows), x, min(x + shape[1], columns)


def in_pieces(work, planes, shape):
    """`work` on each piece of planes (..., rows, columns), put together again."""
    parts = []
    for y0, y1, x0, x1 in cuts(*planes.shape[-2:], shape):
        piece = np.ascontiguousarray(planes[..., y0:y1, x0:x1])
        parts.append(((y0, y1, x0, x1), work(piece, y0, y1, x0, x1)))
    out = np.full((*parts[0][1].shape[:-2], *planes.shape[-2:]), np.nan, parts[0][1].dtype)
    for (y0, y1, x0, x1), part in parts:
        out[..., y0:y1, x0:x1] = part
    return out
