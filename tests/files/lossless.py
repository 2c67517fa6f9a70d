"""Lossless JPEG of every kind that DNG allows (ITU-T T.81, annexes C, H), for tests."""

import struct

import numpy as np

from dng import Layout
from tiffwriter import LONG, SHORT

PREDICTIONS = {
    1: lambda a, b, c: a,
    2: lambda a, b, c: b,
    3: lambda a, b, c: c,
    4: lambda a, b, c: a + b - c,
    5: lambda a, b, c: a + (b - c >> 1),
    6: lambda a, b, c: b + (a - c >> 1),
    7: lambda a, b, c: a + b >> 1,
}
"""Of a sample, from those at the left, above, and above at the left (T.81, table H.1)."""

EVEN = {category: 5 for category in range(17)}
"""Length of the code of each category of differences: all alike."""

UNEVEN = {category: category + 1 for category in range(16)}
"""The longer the wider the difference, up to the 16 bits that a code may have; none of 32768."""


def encode(samples, precision=16, predictor=1, lengths=EVEN, interval_rows=0, long_extra=False):
    """A stream of one interleaved scan.

    Parameters
    ----------
    samples : ndarray, shape (rows, columns, components), uint16
        Below 2**precision.
    precision : int
        Bits of a sample.
    predictor : int
        1 to 7.
    lengths : dict
        Category of a difference to the length of its code.
    interval_rows : int
        Rows between restarts; 0 for none.
    long_extra : bool
        Whether 16 bits follow a difference of 32768, as in files of DNG 1.0.

    Returns
    -------
    bytes
    """
    rows, columns, components = samples.shape
    order, codes = _codes(lengths)
    step = interval_rows or rows
    parts = [
        _entropy_coded(_differences(samples[top : top + step], precision, predictor), codes,
                       lengths, long_extra)
        for top in range(0, rows, step)
    ]  # fmt: skip
    counts = bytes(sum(length == n for length in lengths.values()) for n in range(1, 17))
    frame = struct.pack(">BHHB", precision, rows, columns, components)
    frame += b"".join(bytes((n, 0x11, 0)) for n in range(components))
    scan = bytes((components, *(byte for n in range(components) for byte in (n, 0)), predictor))
    restarts = _segment(0xDD, struct.pack(">H", interval_rows * columns)) if interval_rows else b""
    head = [b"\xff\xd8", _segment(0xC4, b"\0" + counts + bytes(order)), _segment(0xC3, frame)]
    head += [restarts, _segment(0xDA, scan + b"\0\0")]
    marked = [part + bytes((0xFF, 0xD0 + n % 8)) for n, part in enumerate(parts[:-1])]
    return b"".join([*head, *marked, parts[-1], b"\xff\xd9"])


def _segment(marker, body):
    return struct.pack(">BBH", 0xFF, marker, len(body) + 2) + body


def _codes(lengths):
    """Categories in the order of their codes, and the code of each (annex C)."""
    order = sorted(lengths, key=lambda category: (lengths[category], category))
    codes, code, before = {}, 0, lengths[order[0]]
    for category in order:
        code <<= lengths[category] - before
        before = lengths[category]
        codes[category] = code
        code += 1
    return order, codes


def _differences(samples, precision, predictor):
    """From the prediction, -32767 to 32768, in the order of the scan (T.81, H.1.2)."""
    value = samples.astype(np.int64)
    left, above, corner = (np.zeros_like(value) for _ in range(3))
    left[:, 1:], above[1:], corner[1:, 1:] = value[:, :-1], value[:-1], value[:-1, :-1]
    predicted = PREDICTIONS[predictor](left, above, corner)
    predicted[0] = left[0]
    predicted[:, 0] = above[:, 0]
    predicted[0, 0] = 1 << precision - 1
    return ((value - predicted + 32767) % 65536 - 32767).ravel()


def _entropy_coded(differences, codes, lengths, long_extra):
    bits = []
    for difference in differences.tolist():
        category = abs(difference).bit_length()
        bits.append(f"{codes[category]:0{lengths[category]}b}")
        extra = difference if difference > 0 else difference + (1 << category) - 1
        if category == 16:
            bits.append("1" + "0" * 15 if long_extra else "")
        elif category:
            bits.append(f"{extra:0{category}b}")
    text = "".join(bits)
    text += "1" * (-len(text) % 8)
    coded = int(text, 2).to_bytes(len(text) // 8, "big") if text else b""
    return coded.replace(b"\xff", b"\xff\0")


def in_tiles(rows, columns, components, lines=1, tags=(), **options):
    """What lays a mosaic out in tiles, as `dng.write_dng` takes it.

    Parameters
    ----------
    rows, columns : int
        Of a tile.
    components : int
        Of a stream, which codes so many neighbours of a row as one pixel.
    lines : int
        How many rows of a tile are one row of a stream.
    tags : mapping
        More tags.
    **options
        Of `encode`.
    """

    def lay_out(mosaic):
        edges = [(0, -mosaic.shape[0] % rows), (0, -mosaic.shape[1] % columns), (0, 0)]
        grown = np.pad(mosaic, edges[: mosaic.ndim], mode="symmetric")
        cut = [
            grown[top : top + rows, left : left + columns]
            for top in range(0, mosaic.shape[0], rows)
            for left in range(0, mosaic.shape[1], columns)
        ]
        streams = [encode(part.reshape(rows // lines, -1, components), **options) for part in cut]
        size = {322: (LONG, columns), 323: (LONG, rows)}
        return Layout({259: (SHORT, 7), **size, **dict(tags)}, streams)

    return lay_out


def in_strips(rows, components, padded=False, tags=(), **options):
    """What lays a mosaic out in strips; the last one may be padded to as many rows as the others.

    Parameters are those of `in_tiles`.
    """

    def lay_out(mosaic):
        edges = [(0, -len(mosaic) % rows if padded else 0), *[(0, 0)] * (mosaic.ndim - 1)]
        grown = np.pad(mosaic, edges, mode="symmetric")
        cut = [grown[top : top + rows] for top in range(0, len(mosaic), rows)]
        streams = [encode(part.reshape(len(part), -1, components), **options) for part in cut]
        return Layout({259: (SHORT, 7), 278: (LONG, rows), **dict(tags)}, streams)

    return lay_out
