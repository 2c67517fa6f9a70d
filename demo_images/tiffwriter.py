"""The TIFF structure of a file with one picture, written (TIFF 6.0, section 2).

One directory builder writes all directories, each after what it points to, so every offset is
known before it is stated.
"""

import struct
from fractions import Fraction

import numpy as np

BYTE, ASCII, SHORT, LONG, RATIONAL, UNDEFINED, SRATIONAL, DOUBLE = 1, 2, 3, 4, 5, 7, 10, 12
_FORMAT = {
    BYTE: "B", SHORT: "H", LONG: "I", UNDEFINED: "B", RATIONAL: "II", SRATIONAL: "ii", DOUBLE: "d",
}  # fmt: skip


def tiff(tags, segments, directories):
    """Lay out header, segments, sub-directories and the first directory, in this order.

    Parameters
    ----------
    tags : dict
        Tag code of the first directory to (type, value), without the segments' places.
    segments : list of bytes
        Strips, or tiles if `tags` states the width of tiles.
    directories : dict
        Pointer tag code to the tags of a sub-directory; empty ones are left out.

    Returns
    -------
    bytes
    """
    offsets_tag, counts_tag = (324, 325) if 322 in tags else (273, 279)
    body = bytearray(8)
    offsets = []
    for segment in segments:
        offsets.append(len(body))
        body += segment + b"\0" * (len(segment) % 2)
    tags = {
        **tags,
        offsets_tag: (LONG, offsets),
        counts_tag: (LONG, [len(segment) for segment in segments]),
    }
    for pointer, entries in directories.items():
        if entries:
            tags[pointer] = (LONG, len(body))
            body += _directory(entries, len(body))
    body[:8] = struct.pack("<2sHI", b"II", 42, len(body))
    return bytes(body + _directory(tags, len(body)))


def _directory(tags, base):
    """One image file directory at file offset `base`, values that do not fit in place after it."""
    head = struct.pack("<H", len(tags))
    after = base + 2 + 12 * len(tags) + 4
    data = b""
    for number, (kind, value) in sorted(tags.items()):
        count, packed = _pack(kind, value)
        if len(packed) > 4:
            field, data = struct.pack("<I", after + len(data)), data + packed
            data += b"\0" * (len(data) % 2)
        else:
            field = packed.ljust(4, b"\0")
        head += struct.pack("<HHI", number, kind, count) + field
    return head + struct.pack("<I", 0) + data


def _pack(kind, value):
    """Count and bytes of one tag's value."""
    if kind == ASCII:
        packed = value.encode("ascii") + b"\0"
        return len(packed), packed
    if kind in (RATIONAL, SRATIONAL):
        values = [part for number in np.atleast_1d(np.asarray(value, object))
                  for part in Fraction(number).limit_denominator(1_000_000).as_integer_ratio()]
        return len(values) // 2, struct.pack(f"<{len(values)}{_FORMAT[kind][0]}", *values)
    values = np.atleast_1d(np.frombuffer(value, np.uint8) if isinstance(value, bytes) else value)
    return len(values), struct.pack(f"<{len(values)}{_FORMAT[kind]}", *values.tolist())
