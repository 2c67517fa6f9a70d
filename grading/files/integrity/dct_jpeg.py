"""Damage in lossy JPEG streams, which decoders fill with grey and at most mutter about.

Structure and codes: ITU-T T.81, annexes B, C, F and G.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from grading.files.integrity.huffman import by_first_bits, huffman_tables

_START, _END, _TABLES, _RESTARTS, _SCAN = 0xD8, 0xD9, 0xC4, 0xDD, 0xDA
_SEQUENTIAL, _PROGRESSIVE = (0xC0, 0xC1), 0xC2
_OTHER = set(range(0xC3, 0xD0)) - {_TABLES, 0xC8, 0xCC}  # lossless, hierarchical, arithmetic
_BLOCK = 8


class _Component(NamedTuple):
    """Sampling factors, rows and columns of blocks, and their first and row in `known`."""

    h: int
    v: int
    rows: int
    columns: int
    place: tuple


class _Frame(NamedTuple):
    progressive: bool
    mcu_rows: int
    mcu_columns: int
    components: dict
    known: np.ndarray


def is_sound(stream, tables=b""):
    """Whether a lossy JPEG stream holds the codes that its headers promise.

    A damaged stretch puts the walk through the codes out of step, so that their number does not
    come out. A changed bit among those that are no code is not noticed. A stream of another kind
    (lossless, hierarchical, arithmetic coding) counts as sound.

    Parameters
    ----------
    stream : bytes-like
        From its first marker.
    tables : bytes-like
        A stream of tables alone that belongs to it (TIFF, tag JPEGTables).

    Returns
    -------
    bool
    """
    walk = _Walk()
    try:
        if tables:
            walk.whole(tables)
        return walk.whole(stream)
    except (IndexError, KeyError, ValueError):
        return False


class _Walk:
    """What the segments so far have set: Huffman tables, restarts, the frame."""

    def __init__(self):
        self.tables, self.interval, self.frame, self.seen = {}, 0, None, set()

    def whole(self, stream):
        """Walk to the end of the stream; whether it holds a scan of every component."""
        stream, place = np.frombuffer(stream, np.uint8), 2
        if stream[:2].tobytes() != bytes((0xFF, _START)):
            raise ValueError("no start of image")
        while True:
            if stream[place] != 0xFF:
                raise ValueError("no marker")
            marker = int(stream[place + 1])
            if marker == 0xFF:  # a fill byte before the marker
                place += 1
                continue
            if marker == _END:
                return self.frame is not None and self.seen == set(self.frame.components)
            if marker in _OTHER:
                return True
            length = int.from_bytes(stream[place + 2 : place + 4].tobytes(), "big")
            body = stream[place + 4 : place + 2 + length].tobytes()
            place += 2 + length
            if marker == _TABLES:
                self.tables |= {n & 31: _codes(*table) for n, *table in huffman_tables(body)}
            elif marker == _RESTARTS:
                self.interval = int.from_bytes(body[:2], "big")
            elif marker in (*_SEQUENTIAL, _PROGRESSIVE):
                self.frame = _read_frame(body, marker == _PROGRESSIVE, len(stream))
            elif marker == _SCAN:
                place = self.scan(stream, body, place)

    def scan(self, stream, body, place):
        """Walk one scan; the place of the marker after it."""
        from grading.kernels.integrity.dct_codes import DAMAGED, end_of_scan

        if self.frame is None:
            raise ValueError("a scan without a frame")
        first, last, approximation = body[1 + 2 * body[0] : 4 + 2 * body[0]]
        band = self._band(first, last, approximation)
        names, numbers = body[1 : 1 + 2 * body[0] : 2], body[2 : 2 + 2 * body[0] : 2]
        components = [self.frame.components[name] for name in names]
        codes = [table for number in numbers for table in self._codes(number, *band)]
        columns, count, units = _units(self.frame, components)
        self.seen.update(names)
        place = end_of_scan(
            stream, place, units, columns, count, np.stack(codes), band, self.interval,
            self.frame.known,
        )  # fmt: skip
        if place == DAMAGED:
            raise ValueError("damaged codes")
        return place

    def _band(self, first, last, approximation):
        if not self.frame.progressive:
            return 0, 63, -1
        if not first <= last <= 63 or (first == 0) != (last == 0):
            raise ValueError("a band that cannot be")
        return first, last, approximation >> 4

    def _codes(self, number, first, last, high):
        """Tables of DC and AC codes, as far as a band needs them."""
        dc = self.tables[number >> 4] if first == 0 and high <= 0 else _NO_CODES
        return dc, self.tables[16 | number & 15] if last > 0 else _NO_CODES


def _units(frame, components):
    """Units in a row, their count, and the blocks of one as `end_of_scan` takes them."""
    if len(components) == 1:
        (one,) = components
        return one.columns, one.rows * one.columns, np.array([(0, 1, *one.place, 1, 1, 0, 0)])
    blocks = [
        (2 * n, 2 * n + 1, *one.place, one.v, one.h, y, x)
        for n, one in enumerate(components)
        for y in range(one.v)
        for x in range(one.h)
    ]
    return frame.mcu_columns, frame.mcu_rows * frame.mcu_columns, np.array(blocks)


def _read_frame(body, progressive, size):
    height, width = int.from_bytes(body[1:3], "big"), int.from_bytes(body[3:5], "big")
    stated = [(body[6 + 3 * n], *divmod(body[7 + 3 * n], 16)) for n in range(body[5])]
    max_h, max_v = max(h for _, h, _ in stated), max(v for _, _, v in stated)
    if not (height and width and min(min(h, v) for _, h, v in stated)):
        raise ValueError("a frame without pixels")
    mcu_rows, mcu_columns = _blocks(height, max_v), _blocks(width, max_h)
    components, blocks = {}, 0
    for name, h, v in stated:
        rows, columns = _blocks(height * v, max_v), _blocks(width * h, max_h)
        across = mcu_columns * h
        components[name] = _Component(h, v, rows, columns, (blocks, across))
        blocks += mcu_rows * v * across
    if blocks > 8 * size:
        raise ValueError("more blocks than bits of codes")
    return _Frame(progressive, mcu_rows, mcu_columns, components, np.zeros(blocks, np.uint64))


def _blocks(samples, sampling):
    """Blocks that hold so many samples after subsampling."""
    return -(-samples // (_BLOCK * sampling))


_NO_CODES = np.zeros(65536, np.uint16)


@lru_cache(maxsize=16)
def _codes(counts, values):
    """Length and value of a code, for any 16 bits, as `end_of_scan` takes them."""
    values = np.frombuffer(values, np.uint8)
    return by_first_bits(counts, lambda lengths: lengths << 8 | values, np.uint16)
