"""Walks the Huffman codes of a scan of DCT coefficients, sequential or progressive.

Nothing is decoded: the walk only tells whether the scan holds the codes that its header promises,
which a scan that was damaged on the way practically never does. ITU-T T.81, annexes F.2 and G.2.
"""

import numpy as np

from grading.kernels.coded_bytes import is_data, load, none_is_255
from grading.kernels.primitives import compiled

DAMAGED = -1
_PADDING = 15  # bits that may follow the last code, whatever they are: less than two bytes
_ENOUGH = 32


@compiled
def end_of_scan(stream, place, units, columns, count, codes, band, interval, known):
    """Place of the marker after a scan.

    Parameters
    ----------
    stream : ndarray, 1-D, uint8
        The file.
    place : int
        Of the first byte of codes.
    units : ndarray, shape (n, 8), int64
        For each block of a minimum coded unit: its tables of DC and AC codes; where its
        component begins in `known`, blocks in a row there; rows and columns of blocks that a unit
        has; and the block's own row and column among these.
    columns, count : int
        Minimum coded units in a row, and in the scan.
    codes : ndarray, shape (tables, 65536), uint16
        For the next 16 bits: length of the code (high byte) and its value; 0 where there is none.
    band : tuple of three int
        First and last coefficient, and the bit of them that earlier scans ended at: 0 if there
        were none, -1 where the scan is sequential.
    interval : int
        Minimum coded units between restarts; 0 if there are none.
    known : ndarray, 1-D, uint64
        Coefficients of each block that earlier scans found not to be 0, a bit each; changed.

    Returns
    -------
    int
        `DAMAGED` if a code is none, or they end before the scan does, or after.
    """
    first, last, high = band
    held, bits, run, restarts = np.uint64(0), 0, 0, 0
    for mcu in range(count):
        if interval > 0 and mcu > 0 and mcu % interval == 0:
            place = _marker(stream, held, bits, place)
            if place == DAMAGED or stream[place] != 0xD0 + restarts % 8:
                return DAMAGED
            place, held, bits, run, restarts = place + 1, np.uint64(0), 0, 0, restarts + 1
        for n in range(units.shape[0]):
            dc, ac, start, across, v, h, y, x = units[n]
            block = start + (mcu // columns * v + y) * across + mcu % columns * h + x
            if first == 0:
                held, bits, place = _fill(stream, held, bits, place)
                if high > 0:
                    bits -= 1
                else:
                    size, bits = _code(held, bits, codes[dc])
                    bits -= size
                    if size > 15:
                        return DAMAGED
                if bits < 0:
                    return DAMAGED
            if last > 0:
                held, bits, place, run, known[block] = _coefficients(
                    stream, held, bits, place, codes[ac], max(first, 1), last, high, run,
                    known[block],
                )  # fmt: skip
                if bits < 0:
                    return DAMAGED
    place = _marker(stream, held, bits, place)
    return place - 1 if place > 0 else DAMAGED


@compiled
def _coefficients(stream, held, bits, place, codes, k, last, high, run, known):
    """The codes of one block's band; bits are below 0 where it is damaged."""
    one = np.uint64(1)
    if run > 0 and high <= 0:
        return held, bits, place, run - 1, known
    while k <= last and run == 0:
        held, bits, place = _fill(stream, held, bits, place)
        symbol, bits = _code(held, bits, codes)
        zeros, size = symbol >> 4, symbol & 15
        if size == 0 and zeros < 15:
            bits -= zeros
            if bits < 0 or (zeros > 0 and high < 0):
                return held, DAMAGED, place, run, known
            extra = (held >> np.uint64(bits)) & np.uint64((1 << zeros) - 1)
            run = (1 << zeros) + np.int64(extra)
            break
        bits -= size
        if high > 0:
            while k <= last:
                if (known >> np.uint64(k)) & one:
                    held, bits, place = _fill(stream, held, bits, place)
                    bits -= 1
                elif zeros == 0:
                    break
                else:
                    zeros -= 1
                k += 1
        else:
            k += zeros
        if bits < 0 or (size > 0 and k > last) or (size > 1 and high > 0):
            return held, DAMAGED, place, run, known
        if size > 0:
            known |= one << np.uint64(k)
        k += 1
    if run > 0:
        run -= 1
        while k <= last and high > 0:
            if (known >> np.uint64(k)) & one:
                held, bits, place = _fill(stream, held, bits, place)
                bits -= 1
            k += 1
    return held, bits, place, run, known


@compiled
def _fill(stream, held, bits, place):
    """Read on until a code and the bits after it are held, or the codes end."""
    if bits < _ENOUGH and place + 8 <= stream.size:
        four = load(stream, place) >> np.uint64(32)
        if none_is_255(four):
            return held << np.uint64(32) | four, bits + 32, place + 4
    while bits < _ENOUGH and is_data(stream, place):
        held = (held << np.uint64(8)) | np.uint64(stream[place])
        place += 2 if stream[place] == 255 else 1
        bits += 8
    return held, bits, place


@compiled
def _code(held, bits, codes):
    """The value of the next code, and the bits after it; below 0 where it is none."""
    if bits < 0:
        return 0, DAMAGED
    following = held >> np.uint64(bits - 16) if bits >= 16 else held << np.uint64(16 - bits)
    entry = np.int64(codes[following & np.uint64(0xFFFF)])
    length = entry >> 8
    return entry & 255, bits - length if length > 0 else DAMAGED - _ENOUGH


@compiled
def _marker(stream, held, bits, place):
    """Place of the second byte of the marker after the last code, or `DAMAGED`.

    The last byte of codes is filled with ones; whole bytes of zeros may follow.
    """
    whole_bytes = np.uint64((1 << (bits - bits % 8)) - 1)
    if bits > _PADDING and held & whole_bytes != 0:
        return DAMAGED
    while is_data(stream, place):
        if stream[place] != 0:
            return DAMAGED
        place += 1
    while place + 1 < stream.size and stream[place + 1] == 255:
        place += 1
    return place + 1 if place + 1 < stream.size else DAMAGED
