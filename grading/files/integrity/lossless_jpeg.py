"""Lossless JPEG streams, decoded and checked: damage is passed over in silence by other decoders.

Structure and codes: ITU-T T.81, annexes B, C and H.
"""

from functools import lru_cache
from typing import NamedTuple

import numpy as np

from grading.files.metadata.containers import jpeg_segments

_START, _LOSSLESS, _TABLES, _RESTARTS, _SCAN = b"\xff\xd8", 0xC3, 0xC4, 0xDD, 0xDA
_WIDEST = 16  # category of differences, in bits


class Header(NamedTuple):
    """Of a stream: its one interleaved scan, and the place of the codes after it."""

    precision: int
    rows: int
    columns: int
    tables: tuple
    predictor: int
    interval: int
    place: int

    @property
    def size(self):
        """How many samples the stream holds."""
        return self.rows * self.columns * len(self.tables)


def read_header(stream, long_extra=False):
    """The header of a stream.

    Parameters
    ----------
    stream : bytes-like
        From its first marker to the end of its segment of the file.
    long_extra : bool
        Whether 16 bits follow a difference of 32768, as in files of DNG 1.0; T.81 has none.

    Returns
    -------
    Header or None
        None of a stream of another kind: not lossless, of several scans, with subsampled
        components or a point transform, or with restarts within a row.

    Raises
    ------
    ValueError
        If it is no stream, or damaged.
    """
    if bytes(stream[:2]) != _START:
        raise ValueError("no start of image")
    tables, frame, restarts = {}, None, 0
    try:
        for marker, offset, body in jpeg_segments(stream):
            if marker == _TABLES:
                tables |= _read_tables(body, long_extra)
            elif marker == _RESTARTS:
                restarts = int.from_bytes(body[:2], "big")
            elif marker == _LOSSLESS:
                frame = body
            elif 0xC0 <= marker <= 0xCF:
                return None
            elif marker == _SCAN and frame:
                header = _read_scan(frame, body, tables, restarts, offset + len(body))
                if header and header.size > 8 * len(stream):
                    raise ValueError("more samples than bits")
                return header
    except (IndexError, KeyError) as error:
        raise ValueError(f"its header lacks {error}") from None
    raise ValueError("no scan, or one without a frame")


def _read_scan(frame, scan, tables, restarts, place):
    precision, count = frame[0], scan[0]
    rows, columns = int.from_bytes(frame[1:3], "big"), int.from_bytes(frame[3:5], "big")
    predictor, transform = scan[1 + 2 * count], scan[3 + 2 * count] & 15
    if frame[5] != count or any(frame[7 + 3 * n] != 0x11 for n in range(count)) or transform:
        return None
    if not (rows and columns and count and 2 <= precision <= 16 and 1 <= predictor <= 7):
        raise ValueError("a frame or a scan that cannot be")
    if restarts % columns:
        return None
    chosen = tuple(tables[scan[2 + 2 * n] >> 4] for n in range(count))
    return Header(precision, rows, columns, chosen, predictor, restarts // columns, place)


def _read_tables(body, long_extra):
    """Huffman tables of a segment, by number."""
    tables = {}
    while body:
        size = sum(body[1:17])
        tables[body[0] & 15] = _table(body[1:17], body[17 : 17 + size], long_extra)
        body = body[17 + size :]
    return tables


@lru_cache(maxsize=16)
def _table(counts, categories, long_extra):
    """How many codes there are of each length, and their symbols as the kernel takes them."""
    from grading.kernels.raw.lossless_jpeg import LARGEST

    fit = sum(count << 16 - length for length, count in enumerate(counts, 1)) <= 1 << 16
    if not fit or len(counts) < 16 or len(categories) < sum(counts):
        raise ValueError("a table of codes that cannot be")
    found = np.frombuffer(categories, np.uint8).astype(np.uint16)
    if (found > _WIDEST).any():
        raise ValueError("a difference of more than 16 bits")
    symbols = found * 0x0101
    if not long_extra:
        symbols[found == _WIDEST] = LARGEST
    return counts, symbols


def decode(stream, header, samples, start, stride):
    """Decode a stream.

    A damaged stretch puts the walk through the codes out of step, so that their number does not
    come out. A changed bit among those that are no code is noticed only if a sample gets more bits
    than there are.

    Parameters
    ----------
    stream : bytes-like
        From its first marker to the end of its segment of the file.
    header : Header
    samples : ndarray, 1-D, uint16
        Changed: rows of columns x components samples, the components of a pixel side by side.
    start, stride : int
        Where the first row begins, and how far it is from there to the next.

    Returns
    -------
    bool
        Whether it is sound. If not, some of the samples mean nothing.
    """
    from grading.kernels.raw.lossless_jpeg import Scan
    from grading.kernels.raw.lossless_jpeg import decode as decode_scan

    counts = np.array([list(counts) for counts, _ in header.tables], np.uint8)
    symbols = np.zeros((len(counts), max(len(each) for _, each in header.tables)), np.uint16)
    for row, (_, each) in zip(symbols, header.tables, strict=True):
        row[: len(each)] = each
    scan = Scan(*header[:3], counts, symbols, *header[4:6])
    return decode_scan(np.frombuffer(stream, np.uint8), header.place, scan, samples, start, stride)


def is_sound(stream, long_extra=False):
    """Whether a stream decodes to its end; one of another kind counts as sound.

    Parameters
    ----------
    stream, long_extra
        As `read_header` takes them.

    Returns
    -------
    bool
    """
    try:
        header = read_header(stream, long_extra)
    except ValueError:
        return False
    if header is None:
        return True
    samples = np.empty(header.size, np.uint16)
    return decode(stream, header, samples, 0, header.size // header.rows)
