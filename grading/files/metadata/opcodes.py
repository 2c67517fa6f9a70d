"""Corrections that a DNG states: its opcode lists.

DNG specification 1.4, chapter 7, "Opcode List Processing". A list is big-endian whatever the order
of the file: how many, then for each its number, the version of the specification that it came with,
flags, and bytes of its values.
"""

import struct
from typing import NamedTuple

import numpy as np

MAX_OPCODES = 256
"""In a list; sound files have a handful."""

MAX_POINTS = 1 << 20
"""Of a map of gains, planes included."""

OPTIONAL = 1
"""Flag of an opcode that a reader may leave out."""

_WARP, _VIGNETTE, _GAINS = 1, 3, 9
_NAMES = {
    1: "WarpRectilinear", 2: "WarpFisheye", 3: "FixVignetteRadial", 4: "FixBadPixelsConstant",
    5: "FixBadPixelsList", 6: "TrimBounds", 7: "MapTable", 8: "MapPolynomial", 9: "GainMap",
    10: "DeltaPerRow", 11: "DeltaPerColumn", 12: "ScalePerRow", 13: "ScalePerColumn",
    14: "WarpRectilinear2",
}  # fmt: skip


class WarpRectilinear(NamedTuple):
    """For each plane, or for all, kr0 to kr3, kt0 and kt1, shape (planes, 6); and the centre."""

    planes: np.ndarray
    centre: tuple[float, float]


class FixVignetteRadial(NamedTuple):
    """k0 to k4, and the centre."""

    gain: tuple[float, ...]
    centre: tuple[float, float]


class GainMap(NamedTuple):
    """Gains on some planes, rows and columns of an area.

    ``area`` is top, left, bottom, right; ``pitch``, ``spacing`` and ``origin`` are down and across,
    the last two relative to the area; ``gains`` has the shape (rows, columns, map planes).
    """

    area: tuple[int, int, int, int]
    planes: range
    pitch: tuple[int, int]
    spacing: tuple[float, float]
    origin: tuple[float, float]
    gains: np.ndarray


class Unknown(NamedTuple):
    """An opcode that is not carried out here; ``optional`` where its writer can do without."""

    name: str
    optional: bool


def read_opcodes(data):
    """The opcodes of a list.

    Parameters
    ----------
    data : bytes
        Value of one of the tags OpcodeList1 to OpcodeList3.

    Returns
    -------
    list
        Of `WarpRectilinear`, `FixVignetteRadial`, `GainMap` and `Unknown`.

    Raises
    ------
    ValueError
        If it is cut off, or a value is not as the specification has it.
    """
    found, place = [], 4
    try:
        (count,) = struct.unpack_from(">I", data)
        if count > MAX_OPCODES:
            raise ValueError(f"{count} opcodes in a list")
        for _ in range(count):
            number, _, flags, size = struct.unpack_from(">4I", data, place)
            values = data[place + 16 : place + 16 + size]
            if len(values) < size:
                raise ValueError("an opcode is cut off")
            found.append(_opcode(number, bool(flags & OPTIONAL), values))
            place += 16 + size
    except struct.error:
        raise ValueError("an opcode is cut off") from None
    return found


def _opcode(number, optional, values):
    readers = {_WARP: _warp, _VIGNETTE: _vignette, _GAINS: _gain_map}
    if number not in readers:
        return Unknown(_NAMES.get(number, f"opcode {number}"), optional)
    return readers[number](values)


def _finite(numbers):
    numbers = np.asarray(numbers, np.float64)
    if not np.isfinite(numbers).all():
        raise ValueError("a value is no number")
    return numbers


def _centre(x, y):
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise ValueError(f"a centre at [{x:g}, {y:g}], which is outside of the frame")
    return x, y


def _warp(values):
    (planes,) = struct.unpack_from(">I", values)
    if planes not in (1, 3):
        raise ValueError(f"a warp of {planes} planes")
    numbers = _finite(struct.unpack_from(f">{6 * planes + 2}d", values, 4))
    return WarpRectilinear(numbers[:-2].reshape(planes, 6), _centre(*numbers[-2:].tolist()))


def _vignette(values):
    numbers = _finite(struct.unpack_from(">7d", values)).tolist()
    return FixVignetteRadial(tuple(numbers[:5]), _centre(*numbers[5:]))


def _gain_map(values):
    *area, plane, planes, down, across, rows, columns = struct.unpack_from(">10I", values)
    *steps, depth = struct.unpack_from(">4dI", values, 40)
    if not (0 < rows * columns * depth <= MAX_POINTS and min(down, across, planes) > 0):
        raise ValueError(f"a map of {rows} x {columns} gains for {planes} planes")
    steps = _finite(steps).tolist()
    if (rows > 1 and steps[0] <= 0) or (columns > 1 and steps[1] <= 0):
        raise ValueError("a map of gains whose points lie upon each other")
    gains = np.frombuffer(values, ">f4", rows * columns * depth, 76)
    gains = _finite(gains).reshape(rows, columns, depth)
    if gains.min() <= 0:
        raise ValueError("a map with gains of 0 or less")
    return GainMap(
        tuple(area), range(plane, plane + min(planes, 16)), (down, across), tuple(steps[:2]),
        tuple(steps[2:]), gains,
    )  # fmt: skip
