"""Opcode lists of DNG files, written as the specification has them (DNG 1.4, chapter 7)."""

import struct

import numpy as np

LIST_1, LIST_2, LIST_3 = 51008, 51009, 51022


def listed(*opcodes):
    """A list of opcodes, each a number, bytes of values and, if it may be left out, True."""
    parts = [struct.pack(">I", len(opcodes))]
    for number, values, *optional in opcodes:
        parts.append(struct.pack(">I4B2I", number, 1, 3, 0, 0, int(any(optional)), len(values)))
        parts.append(values)
    return b"".join(parts)


def warp(*planes, centre=(0.5, 0.5)):
    """WarpRectilinear of planes of six coefficients."""
    return 1, struct.pack(f">I{6 * len(planes) + 2}d", len(planes), *np.ravel(planes), *centre)


def vignette(*gain, centre=(0.5, 0.5)):
    """FixVignetteRadial."""
    return 3, struct.pack(">7d", *np.pad(gain, (0, 5 - len(gain))), *centre)


def gain_map(gains, area, site=(0, 0), pitch=(1, 1), planes=(0, 1), origin=(0, 0)):
    """GainMap of gains, shape (rows, columns, map planes), from corner to corner of an area."""
    gains = np.asarray(gains, ">f4")
    rows, columns, depth = gains.shape
    whole = (*site, *area, *planes, *pitch, rows, columns)
    spacing = [(1 - o) / max(n - 1, 1) for n, o in zip((rows, columns), origin, strict=True)]
    return 9, struct.pack(">10I4dI", *whole, *spacing, *origin, depth) + gains.tobytes()
