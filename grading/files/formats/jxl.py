"""JPEG XL of 8 bit; the colour is stated by the stream itself, for sRGB and grey alone.

The encoder at hand takes no ICC profile and can state no other space, and says of codes of more
than 8 bits that they are linear light. Container: ISO/IEC 18181-2;
head of the stream: ISO/IEC 18181-1, annexes A to D (from memory; the tests hold it against files).
"""

import io

from grading.colour.profiles import GREY
from grading.errors import OutputError
from grading.files.formats.record import Format, Header
from grading.files.metadata.boxes import box, boxes, content_of
from grading.files.metadata.exif import exif_block

_EFFORT = 5
"""Of the encoder, 1 to 9."""

_STREAM = b"\xff\x0a"
_RATIOS = (None, (1, 1), (12, 10), (4, 3), (3, 2), (16, 9), (5, 4), (2, 1))
_D65, _SRGB_PRIMARIES, _SRGB_CURVE = 1, 1, 13


def distance(quality):
    """How far the encoder may go from the picture, in just noticeable differences.

    The scale of the reference encoder (from memory): 90 is 1, 100 is lossless.

    >>> distance(90), distance(100), distance(30)
    (1.0, 0.0, 6.4)
    """
    if quality >= 100:
        return 0.0
    if quality >= 30:
        return round(0.1 + (100 - quality) * 0.09, 6)
    return round(53 / 3000 * quality**2 - 23 / 20 * quality + 25, 6)


def encode_jxl(codes, attached, quality, workers=None):
    """Encode a JPEG XL file.

    Parameters
    ----------
    codes : ndarray, shape (H, W, 3) or (H, W), uint8
    attached : Attached
    quality : int
        1 to 100; at 100 nothing is lost.
    workers : int, optional
        Threads, which do not change the bytes.

    Returns
    -------
    bytes

    Raises
    ------
    OutputError
        If the encoder states another colour space than that of the codes.
    """
    import imagecodecs

    height, width = codes.shape[:2]
    exact = {"lossless": True} if quality == 100 else {"distance": distance(quality)}
    data = imagecodecs.jpegxl_encode(
        codes, effort=_EFFORT, usecontainer=True, numthreads=workers, **exact
    )
    made = _read_header(io.BytesIO(data))
    if made is None or made.space != attached.space:
        raise OutputError(
            f"the JPEG XL encoder installed here does not state the space {attached.space}",
            remedy="deliver another format, or install another version of imagecodecs",
        )
    exif = attached.exif
    added = b""
    if exif:
        block = exif_block(exif, width, height, attached.is_srgb)
        added += box(b"Exif", bytes(4) + block)  # the TIFF header is 0 bytes on
    return bytes(data) + added + (box(b"xml ", attached.xmp) if attached.xmp else b"")


def _read_header(file):
    found = boxes(file.read())
    stream = content_of(found, b"jxlc")
    if not stream.startswith(_STREAM):
        return None
    bits = _Bits(stream[2:])
    width, height = _size(bits)
    depth, space = _depth_and_space(bits)
    return Header(width, height, depth, space, content_of(found, b"xml ") or None)


class _Bits:
    """Reads numbers from a stream whose first bit is the lowest of the first byte."""

    def __init__(self, stream):
        self._left = int.from_bytes(stream[:64], "little")

    def take(self, count):
        value = self._left & ((1 << count) - 1)
        self._left >>= count
        return value

    def one_of(self, *ways):
        """A number in one of four ways, each its offset and how many bits follow."""
        offset, count = ways[self.take(2)]
        return offset + self.take(count)

    def named(self):
        return self.one_of((0, 0), (1, 0), (2, 4), (18, 6))


def _size(bits):
    small = bits.take(1)
    height = _side(bits, small)
    ratio = _RATIOS[bits.take(3)]
    return (height * ratio[0] // ratio[1] if ratio else _side(bits, small)), height


def _side(bits, small):
    if small:
        return 8 * (bits.take(5) + 1)
    return bits.one_of((1, 9), (1, 13), (1, 18), (1, 30))


def _depth_and_space(bits):
    """Bits a sample, and the name of the space where it is one that we write."""
    if bits.take(1):  # all as by default
        return 8, "srgb"
    if bits.take(1) and bits.take(6):  # turned, or of several sizes or pictures
        return 0, None
    if bits.take(1):  # in floating point
        return 0, None
    depth = bits.one_of((8, 0), (10, 0), (12, 0), (1, 6))
    bits.take(1)  # whether 16 bits are enough to decode it
    if bits.one_of((0, 0), (1, 0), (2, 4), (1, 12)):  # channels beyond the colours
        return depth, None
    bits.take(1)  # whether it is coded in XYB
    return depth, _space(bits)


def _space(bits):
    if bits.take(1):
        return "srgb"
    if bits.take(1):  # an ICC profile follows
        return None
    grey = bits.named() == 1
    said = [bits.named(), _SRGB_PRIMARIES if grey else bits.named()]
    if bits.take(1):  # a pure power
        return None
    said.append(bits.named())
    if said != [_D65, _SRGB_PRIMARIES, _SRGB_CURVE]:
        return None
    return GREY if grey else "srgb"


FORMAT = Format("jxl", ".jxl", 8, encode_jxl, True, _read_header, ("srgb", GREY))
