"""How JPEG, PNG and some raw files carry their EXIF block and colour profile.

JPEG marker segments: ISO/IEC 10918-1, annex B. EXIF in APP1: Exif 2.32, 4.7.2. ICC in APP2:
ICC.1:2022, annex B.4. XMP in APP1 and in PNG: ISO 16684-1 and XMP specification part 3. PNG chunks:
W3C PNG (third edition), 5.3.
"""

import struct
import zlib
from typing import NamedTuple

from grading.errors import OriginalError, OutputError
from grading.files.limits import LARGEST_PROFILE, check_profile

JPEG_START = b"\xff\xd8\xff"
PNG_START = b"\x89PNG\r\n\x1a\n"
EXIF_HEADER = b"Exif\0\0"

_XMP_HEADER = b"http://ns.adobe.com/xap/1.0/\0"
_XMP_KEYWORD = b"XML:com.adobe.xmp\0"
_ICC_HEADER = b"ICC_PROFILE\0"
_LONGEST_SEGMENT = 65533
LONGEST_EXIF = _LONGEST_SEGMENT - len(EXIF_HEADER)
"""Bytes of an EXIF block that a JPEG has room for."""

LONGEST_XMP = _LONGEST_SEGMENT - len(_XMP_HEADER)
"""Bytes of an XMP packet that a JPEG has room for."""

_ICC_PIECE = _LONGEST_SEGMENT - len(_ICC_HEADER) - 2
_APP0, _APP1, _APP2, _APP14, _START_OF_SCAN = 0xE0, 0xE1, 0xE2, 0xEE, 0xDA
_COMMENT = 0xFE
_PER_INCH = 1


class Segment(NamedTuple):
    """A JPEG marker segment: its marker, where its payload begins, and the payload."""

    marker: int
    offset: int
    payload: bytes


def jpeg_segments(data):
    """The marker segments of a JPEG up to and including the first start of scan, as a list."""
    segments, place = [], 2
    while place + 4 <= len(data) and data[place] == 0xFF:
        marker, length = struct.unpack_from(">xBH", data, place)
        if marker == 0xFF:  # a fill byte before the marker
            place += 1
            continue
        payload = bytes(data[place + 4 : place + 2 + length])
        segments.append(Segment(marker, place + 4, payload))
        if marker == _START_OF_SCAN:
            break
        place += 2 + length
    return segments


def jpeg_exif(segments):
    """The EXIF block (from its TIFF header) among JPEG segments; empty if there is none."""
    blocks = (
        segment.payload[len(EXIF_HEADER) :]
        for segment in segments
        if segment.marker == _APP1 and segment.payload.startswith(EXIF_HEADER)
    )
    return next(blocks, b"")


def jpeg_profile(segments):
    """The ICC profile among JPEG segments, put together from its pieces, or ``None``."""
    start = len(_ICC_HEADER)
    pieces = [
        (segment.payload[start], segment.payload[start + 2 :])
        for segment in segments
        if segment.marker == _APP2 and segment.payload.startswith(_ICC_HEADER)
    ]
    return b"".join(piece for _, piece in sorted(pieces)) or None


def jpeg_xmp(segments):
    """The XMP packet among JPEG segments, or ``None``."""
    for segment in segments:
        if segment.marker == _APP1 and segment.payload.startswith(_XMP_HEADER):
            return segment.payload[len(_XMP_HEADER) :]
    return None


def jpeg_is_complete(data, segments):
    """Whether the JPEG's scan data ends with an end-of-image marker."""
    if not segments or segments[-1].marker != _START_OF_SCAN:
        return False
    return data.find(b"\xff\xd9", segments[-1].offset) >= 0


def without_facts(data, segments):
    """A JPEG without what does not concern its pixels, on which a decoder could only stumble."""
    kept = [
        data[segment.offset - 4 : segment.offset + len(segment.payload)]
        for segment in segments[:-1]
        if segment.marker in (_APP0, _APP14) or not _APP0 <= segment.marker <= _COMMENT
    ]
    return b"".join([data[:2], *kept, data[segments[-1].offset - 4 :]])


def add_to_jpeg(jpeg, exif=None, profile=None, xmp=None, dpi=None):
    """Insert an EXIF block, an ICC profile and an XMP packet into a JPEG stream.

    Parameters
    ----------
    jpeg : bytes
        A JPEG stream.
    exif : bytes, optional
        EXIF block from its TIFF header; at most 65527 bytes.
    profile : bytes, optional
        ICC profile; split over as many segments as it needs.
    xmp : bytes, optional
        XMP packet; at most `LONGEST_XMP` bytes.
    dpi : int, optional
        Pixels an inch, for the JFIF header (ISO/IEC 10918-5, 10.1).

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If the EXIF block or the packet does not fit into one segment, or the profile not into 255.
    """
    added = []
    if exif:
        added.append(_segment(_APP1, EXIF_HEADER + exif))
    if xmp:
        if len(xmp) > LONGEST_XMP:
            raise OutputError(
                f"its credits, caption and keywords make an XMP packet of {len(xmp)} bytes",
                allowed=f"up to {LONGEST_XMP} bytes in a JPEG",
                remedy="shorten them, or deliver another format",
            )
        added.append(_segment(_APP1, _XMP_HEADER + xmp))
    if profile:
        pieces = [profile[i : i + _ICC_PIECE] for i in range(0, len(profile), _ICC_PIECE)]
        if len(pieces) > 255:
            raise OutputError(
                f"the ICC profile has {len(profile)} bytes",
                allowed=f"up to {255 * _ICC_PIECE} bytes in a JPEG",
            )
        added.extend(
            _segment(_APP2, _ICC_HEADER + bytes((number, len(pieces))) + piece)
            for number, piece in enumerate(pieces, 1)
        )
    first = jpeg_segments(jpeg)[0]
    place = first.offset + len(first.payload) if first.marker == _APP0 else 2
    head = bytearray(jpeg[:place])
    if dpi and first.marker == _APP0:
        struct.pack_into(">BHH", head, first.offset + 7, _PER_INCH, dpi, dpi)
    return b"".join([head, *added, jpeg[place:]])


def _segment(marker, payload):
    if len(payload) > _LONGEST_SEGMENT:
        raise OutputError(
            f"the EXIF block has {len(payload)} bytes",
            allowed=f"up to {_LONGEST_SEGMENT} bytes in a JPEG",
        )
    return struct.pack(">BBH", 0xFF, marker, len(payload) + 2) + payload


def png_chunks(data):
    """The chunks of a PNG before its pixels, as a dict from name (bytes) to content.

    Also holds chunks that follow the pixels, such as an EXIF block at the end, but not the
    pixels themselves.
    """
    chunks, place = {}, len(PNG_START)
    while place + 12 <= len(data):
        length, name = struct.unpack_from(">I4s", data, place)
        if name != b"IDAT":
            chunks.setdefault(name, bytes(data[place + 8 : place + 8 + length]))
        place += 12 + length
    return chunks


def png_xmp(chunks):
    """The XMP packet of a PNG's iTXt chunk, or ``None``."""
    start = _XMP_KEYWORD + bytes(4)  # not compressed, no language
    text = chunks.get(b"iTXt", b"")
    return text[len(start) :] if text.startswith(start) else None


def add_to_png(png, chunks):
    """Insert chunks after the head of a PNG.

    Parameters
    ----------
    png : bytes
    chunks : list of (bytes, bytes)
        Name and content of each.

    Returns
    -------
    bytes
    """
    place = len(PNG_START) + 25  # IHDR is always first, with 13 bytes
    return b"".join([png[:place], *(_chunk(*each) for each in chunks), png[place:]])


def png_chunks_of(exif=None, profile=None, xmp=None, dpi=None):
    """What `add_to_png` inserts of an EXIF block, an ICC profile, an XMP packet and a density.

    The profile is stored without compression, so that its bytes are the same with any zlib.
    """
    chunks = []
    if profile:
        chunks.append((b"iCCP", b"ICC profile\0\0" + zlib.compress(profile, 0)))
    if dpi:
        metre = round(dpi / 0.0254)
        chunks.append((b"pHYs", struct.pack(">IIB", metre, metre, 1)))
    if exif:
        chunks.append((b"eXIf", exif))
    if xmp:
        chunks.append((b"iTXt", _XMP_KEYWORD + bytes(4) + xmp))
    return chunks


def _chunk(name, content):
    checked = name + content
    return struct.pack(">I", len(content)) + checked + struct.pack(">I", zlib.crc32(checked))


def png_profile(chunks):
    """The ICC profile of a PNG's iCCP chunk, or ``None``.

    Raises
    ------
    OriginalError
        If the chunk cannot be unpacked, or holds too much.
    """
    if b"iCCP" not in chunks:
        return None
    packed = chunks[b"iCCP"].partition(b"\0")[2][1:]
    unpacking = zlib.decompressobj()
    try:
        profile = unpacking.decompress(packed, LARGEST_PROFILE + 1)
        check_profile(len(profile))
        if not unpacking.eof:
            raise zlib.error("incomplete or truncated stream")
    except zlib.error as error:
        raise OriginalError(
            f"the embedded colour profile cannot be unpacked ({error})",
            remedy="export the picture again with a sound profile",
        ) from None
    return profile


def exif_blocks(data):
    """Find the EXIF blocks of an original.

    Parameters
    ----------
    data : bytes-like
        The whole file.

    Returns
    -------
    list of bytes-like
        Blocks from their TIFF header on, empty where there is none; for TIFF-based files the file
        itself. Raw files in the ISO base media format keep the main, EXIF and GPS directories in
        blocks of their own; others embed a JPEG preview that carries the block.
    """
    head = bytes(data[:16])
    if head.startswith(JPEG_START):
        return [jpeg_exif(jpeg_segments(data))]
    if head.startswith(PNG_START):
        return [png_chunks(data).get(b"eXIf", b"")]
    if head[4:11] == b"ftypcrx":
        return [_box(data, name) for name in (b"CMT1", b"CMT2", b"CMT4")]
    if head.startswith(b"FUJIFILM") and len(data) > 92:
        offset, length = struct.unpack(">II", data[84:92])
        return [jpeg_exif(jpeg_segments(data[offset : offset + length]))]
    return [data]


def _box(data, name):
    """Content of the first box called ``name`` in the first MiB; empty if there is none."""
    place = bytes(data[: 1 << 20]).find(name)
    if place < 4:
        return b""
    length = struct.unpack(">I", data[place - 4 : place])[0]
    return bytes(data[place + 4 : place - 4 + length])
