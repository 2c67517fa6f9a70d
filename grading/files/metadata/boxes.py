"""Boxes of the ISO base media file format, as AVIF and JPEG XL files are made of.

Boxes: ISO/IEC 14496-12, 4.2; items and where they lie: 8.11. Exif and XMP as items of a picture:
ISO/IEC 23008-12, annex A. What is damaged reads as far as it is sound.
"""

import struct
from typing import NamedTuple

from grading.errors import OutputError

_CONTENT_TYPES = {b"Exif": b"", b"mime": b"application/rdf+xml\0"}


class Box(NamedTuple):
    """A box: its name, where it begins and ends, and its content."""

    name: bytes
    start: int
    end: int
    content: bytes


def boxes(data, start=0):
    """The boxes that follow each other in ``data``, from ``start`` on, as a list."""
    found = []
    while start + 8 <= len(data):
        size, name = struct.unpack_from(">I4s", data, start)
        head = 8
        if size == 1 and start + 16 <= len(data):
            (size,), head = struct.unpack_from(">Q", data, start + 8), 16
        end = len(data) if size == 0 else start + size
        if size and size < head or end > len(data):
            break
        found.append(Box(name, start, end, bytes(data[start + head : end])))
        start = end
    return found


def content_of(found, name):
    """Content of the first box of a name; empty where there is none."""
    return next((each.content for each in found if each.name == name), b"")


def box(name, content):
    """The bytes of a box."""
    return struct.pack(">I4s", len(content) + 8, name) + content


def inside_meta(data):
    """The boxes inside the meta box of a file; empty where there is none."""
    return boxes(content_of(boxes(data), b"meta"), 4)


def item(data, kind):
    """The content of the first item of a kind, ``b"Exif"`` or ``b"mime"``, or ``None``."""
    meta = inside_meta(data)
    numbers = [
        struct.unpack_from(">H", each.content, 4)[0]
        for each in boxes(content_of(meta, b"iinf"), 6)
        if each.name == b"infe" and each.content[8:12] == kind
    ]
    places = {number: pieces for number, pieces in _locations(content_of(meta, b"iloc"))}
    if not numbers or numbers[0] not in places:
        return None
    return b"".join(bytes(data[at : at + size]) for at, size in places[numbers[0]])


def add_items(data, exif=None, xmp=None):
    """Add an EXIF block and an XMP packet to a picture of one item, as libavif writes it.

    Parameters
    ----------
    data : bytes
        A file of the boxes ftyp, meta and mdat.
    exif : bytes, optional
        EXIF block from its TIFF header.
    xmp : bytes, optional

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If the file is laid out in another way.
    """
    added = [(b"Exif", bytes(4) + exif)] if exif else []  # the TIFF header is 0 bytes on
    added += [(b"mime", xmp)] if xmp else []
    if not added:
        return data
    outer, inner = boxes(data), inside_meta(data)
    whole = next((each for each in outer if each.name == b"meta"), None)
    names = [each.name for each in inner]
    known = {b"pitm", b"iloc", b"iinf"} <= set(names) and _locations(content_of(inner, b"iloc"))
    if whole is None or b"iref" in names or not known:
        raise OutputError(
            "the AVIF encoder installed here lays its files out in an unknown way",
            remedy="deliver another format, or install another version of imagecodecs",
        )
    growth = len(_meta(inner, added, 0, 0)) - (whole.end - whole.start)
    meta = _meta(inner, added, growth, len(data) + growth + 8)
    pixels = box(b"mdat", b"".join(content for _, content in added))
    return data[: whole.start] + meta + data[whole.end :] + pixels


def _meta(inner, added, growth, place):
    """The meta box with items that lie at ``place``, while all before moves by ``growth``."""
    locations = _locations(content_of(inner, b"iloc"))
    known = [[n, [(at + growth, size) for at, size in pieces]] for n, pieces in locations]
    first = max(number for number, _ in locations) + 1
    (primary,) = struct.unpack_from(">H", content_of(inner, b"pitm"), 4)
    entries, references = b"", b""
    for number, (kind, content) in enumerate(added, first):
        known.append([number, [(place, len(content))]])
        place += len(content)
        entry = bytes((2, 0, 0, 1)) + struct.pack(">HH", number, 0) + kind + b"\0"
        entries += box(b"infe", entry + _CONTENT_TYPES[kind])
        references += box(b"cdsc", struct.pack(">HHH", number, 1, primary))
    information = content_of(inner, b"iinf")
    (count,) = struct.unpack_from(">H", information, 4)
    head = bytes(4) + struct.pack(">H", count + len(added))
    changed = {
        b"iloc": _written(known),
        b"iinf": head + information[6:] + entries,
    }
    parts = [box(each.name, changed.get(each.name, each.content)) for each in inner]
    return box(b"meta", bytes(4) + b"".join(parts) + box(b"iref", bytes(4) + references))


def _locations(content):
    """Pairs of item number and its pieces, each offset and size, of an iloc box of version 0."""
    if len(content) < 8 or content[0] != 0 or content[4:6] != b"\x44\0":
        return []
    (count,), place, found = struct.unpack_from(">H", content, 6), 8, []
    for _ in range(count):
        if place + 6 > len(content):
            break
        number, _, pieces = struct.unpack_from(">HHH", content, place)
        place += 6
        if place + 8 * pieces > len(content):
            break
        numbers = struct.unpack_from(f">{2 * pieces}I", content, place)
        found.append((number, list(zip(numbers[::2], numbers[1::2], strict=True))))
        place += 8 * pieces
    return found


def _written(locations):
    content = bytes(4) + b"\x44\0" + struct.pack(">H", len(locations))
    for number, pieces in locations:
        content += struct.pack(">HHH", number, 0, len(pieces))
        content += b"".join(struct.pack(">II", *piece) for piece in pieces)
    return content
