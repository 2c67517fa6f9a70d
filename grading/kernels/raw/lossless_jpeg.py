"""Decodes lossless JPEG, and notices damage by the way (ITU-T T.81, annexes C, F.2.2 and H).

A stream that was damaged on the way practically never gives as many codes as its header promises,
up to its end, and no sample of more bits than stated.

What follows of the codes is kept in a buffer, without the zeros stuffed after each 255, so that the
next 64 bits are one load from any place. It is filled before a row, so that no row runs out.
"""

from typing import NamedTuple

import numpy as np

from grading.kernels.coded_bytes import is_data, load, none_is_255, store
from grading.kernels.primitives import compiled, inner

LARGEST = 0x8000
"""The symbol of a difference of 32768 that no bits follow (T.81, table H.2)."""

_LOOK = 12  # bits that find a code at once; longer ones are rare
_LONGEST = 4  # bytes of a code with the bits after it
_PADDING = 15  # bits that may follow the last code: less than two bytes
_DAMAGED = -1
_ONE = np.uint64(1)


class Scan(NamedTuple):
    """What the header of a stream says.

    Attributes
    ----------
    precision : int
        Bits of a sample.
    rows, columns : int
    counts : ndarray, shape (components, 16), uint8
        How many codes there are of each length from 1 on; they are no more than fit.
    symbols : ndarray, shape (components, n), uint16
        Of each code, in order: how many bits follow it, in both bytes; or `LARGEST`.
    predictor : int
        1 to 7 (table H.1).
    interval : int
        Rows between restarts; 0 if there are none.
    """

    precision: int
    rows: int
    columns: int
    counts: np.ndarray
    symbols: np.ndarray
    predictor: int
    interval: int


@compiled
def decode(stream, place, scan, samples, start, stride):
    """Decode a scan.

    Parameters
    ----------
    stream : ndarray, 1-D, uint8
        A stream, up to the end of its segment of the file.
    place : int
        Of the first byte of codes.
    scan : Scan
    samples : ndarray, 1-D, uint16
        Changed: rows of columns x components samples, the components of a pixel side by side.
    start, stride : int
        Where the first row begins, and how far it is from there to the next.

    Returns
    -------
    bool
        Whether the stream is sound. If not, some of the samples mean nothing.
    """
    differences = np.empty(scan.columns * scan.counts.shape[0], np.uint16)
    longest = _LONGEST * differences.size + 16  # bytes of a row, and what is loaded past it
    buffer, codes = np.empty(3 * longest, np.uint8), _codes(scan.counts, scan.symbols)
    used, filled, ended, found = 0, 0, False, 0
    interval = scan.interval if scan.interval > 0 else scan.rows
    for row in range(scan.rows):
        first = row % interval == 0
        if first and row > 0:
            place = _after_restart(stream, place, row // interval - 1)
            used, filled, ended = 0, 0, False
            if place == _DAMAGED:
                return False
        if not ended and filled - used // 8 < longest:
            place, used, filled, ended = _read_on(stream, place, buffer, used, filled)
        used = _read_row(buffer, used, codes, scan.symbols, differences)
        if used == _DAMAGED or used > 8 * filled:
            return False
        found |= _undo(differences, scan, first, samples, start + row * stride, stride)
        if row + 1 == scan.rows or (row + 1) % interval == 0:
            if not ended:
                place, used, filled, ended = _read_on(stream, place, buffer, used, filled)
            if not ended or 8 * filled - used > _PADDING:
                return False
    return found >> scan.precision == 0


@inner
def _after_restart(stream, place, number):
    """Where codes go on after a restart; `_DAMAGED` where it is not the one of this number."""
    while place + 1 < stream.size and stream[place + 1] == 255:
        place += 1
    if place + 1 < stream.size and stream[place + 1] == 0xD0 + number % 8:
        return place + 2
    return _DAMAGED


@inner
def _read_on(stream, place, buffer, used, filled):
    """Fill the buffer as far as there are codes; what was read already goes out of it.

    Returns
    -------
    place, used, filled : int
        In the stream, bits in the buffer, and bytes in it.
    ended : bool
        Whether no codes follow; there are zeros behind them.
    """
    room, out = buffer.size * 2 // 3, used // 8
    for k in range(0, filled - out, 8):
        store(buffer, k, load(buffer, out + k))
    used, filled, more = used - 8 * out, filled - out, True
    while more and filled + 8 <= room:
        plain = place + 8 <= stream.size
        if plain:
            eight = load(stream, place)
            plain = none_is_255(eight)
        if plain:
            store(buffer, filled, eight)
            place, filled = place + 8, filled + 8
        else:
            for _ in range(8):
                more = is_data(stream, place)
                if more:
                    buffer[filled] = stream[place]
                    place, filled = place + (2 if stream[place] == 255 else 1), filled + 1
    for k in range(filled, buffer.size if not more else filled):
        buffer[k] = 0
    return place, used, filled, not more


@inner
def _codes(counts, symbols):
    """Tables of the codes of each component (annex C, in the order of their lengths).

    Returns
    -------
    short : ndarray, shape (components, 2**_LOOK), uint16
        For the next bits: the symbol of the code that they begin with, and in the low byte how
        long that and the bits after it are; 0 if the code is longer, or is none.
    ends : ndarray, shape (components, 17), int64
        For each length: the next 16 bits after the last code of it.
    places : ndarray, shape (components, 17), int64
        For each length: what to add to the number of a code for its place among `symbols`.
    """
    components = counts.shape[0]
    short = np.zeros((components, 1 << _LOOK), np.uint16)
    ends = np.zeros((components, 17), np.int64)
    places = np.zeros((components, 17), np.int64)
    for n in range(components):
        code, place = 0, 0
        for length in range(1, 17):
            places[n, length] = place - code
            for _ in range(counts[n, length - 1]):
                if length <= _LOOK:
                    wide = _LOOK - length
                    for k in range(code << wide, (code + 1) << wide):
                        short[n, k] = symbols[n, place] + length
                code, place = code + 1, place + 1
            ends[n, length] = code << (16 - length)
            code <<= 1
    return short, ends, places


@inner
def _long_code(ahead, ends, places, symbols):
    """What `short` would hold of a longer code, from the next 16 bits; 0 if there is none."""
    for length in range(_LOOK + 1, 17):
        if ahead < ends[length]:
            return np.int64(symbols[places[length] + (ahead >> (16 - length))]) + length
    return 0


@inner
def _read_row(buffer, used, codes, symbols, differences):
    """Read the differences of a row; the bits that are used then, or `_DAMAGED`."""
    short, ends, places = codes
    held = load(buffer, used // 8) << np.uint64(used % 8)
    place, count = used // 8 + 7, np.uint64(56 - used % 8)
    components, n = short.shape[0], 0
    for _ in range(differences.size // components):
        for component in range(components):
            held |= load(buffer, place) >> count
            place += np.int64((np.uint64(63) - count) >> np.uint64(3))
            count |= np.uint64(56)
            entry = np.uint64(short[component, held >> np.uint64(64 - _LOOK)])
            if entry == 0:
                ahead = np.int64(held >> np.uint64(48))
                entry = np.uint64(
                    _long_code(ahead, ends[component], places[component], symbols[component])
                )
                if entry == 0:
                    return _DAMAGED
            size, step = (entry >> np.uint64(8)) & np.uint64(31), entry & np.uint64(255)
            after = held << (step - size)
            value = (after >> np.uint64(1)) >> (np.uint64(63) - size)
            value -= np.uint64(0) if after >> np.uint64(63) else (_ONE << size) - _ONE
            differences[n] = np.uint16(value + (entry & np.uint64(LARGEST)))
            held <<= step
            count -= step
            n += 1
    return 8 * place - np.int64(count)


@inner
def _undo(differences, scan, first, samples, at, stride):
    """Samples of a row from its differences (H.1.2.1); the bits that any of them has."""
    components, above, found = scan.counts.shape[0], at - stride, 0
    for n in range(components):
        value = 1 << (scan.precision - 1) if first else np.int64(samples[above + n])
        if first or scan.predictor == 1:
            for k in range(n, differences.size, components):
                value = (value + differences[k]) & 0xFFFF
                samples[at + k] = value
                found |= value
        else:
            corner = value  # which makes every prediction of a first column the sample above
            for k in range(n, differences.size, components):
                b = np.int64(samples[above + k])
                value = _predicted(scan.predictor, value, b, corner) + differences[k] & 0xFFFF
                samples[at + k] = value
                found, corner = found | value, b
    return found


@inner
def _predicted(predictor, left, above, corner):
    """From the samples at the left, above, and above at the left (table H.1)."""
    if predictor == 2:
        return above
    if predictor == 3:
        return corner
    if predictor == 4:
        return left + above - corner
    if predictor == 5:
        return left + ((above - corner) >> 1)
    if predictor == 6:
        return above + ((left - corner) >> 1)
    return (left + above) >> 1
