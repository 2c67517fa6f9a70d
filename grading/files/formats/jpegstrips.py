"""A JPEG encoded in strips at the same time, and put together as one picture.

A restart marker in a JPEG's scan begins anew what the entropy coding remembers, so that strips of
whole rows of blocks, coded apart with the same tables, stand one after the other between restart
markers (ISO/IEC 10918-1, B.2.4.4 and E.1.4). A decoder finds the same blocks as in a picture that
was encoded whole.
"""

import os
import struct
from concurrent.futures import ThreadPoolExecutor

from grading.files.metadata.containers import jpeg_segments

BLOCK = 8
STRIP = 32
"""Rows of blocks in a strip, unless that is more blocks than a restart interval can have."""

_LONGEST_INTERVAL = 65535
_FRAME, _RESTART_INTERVAL, _RESTART = 0xC0, 0xDD, 0xD0


def encode_in_strips(rgb8, encode, workers=None):
    """Encode a picture by strips, several at a time.

    Parameters
    ----------
    rgb8 : ndarray, shape (H, W, 3) or (H, W), uint8
        Picture, C-contiguous.
    encode : callable
        From such an array to the bytes of a baseline JPEG with one scan, no chroma subsampling,
        and tables that do not depend on the picture.
    workers : int, optional
        Threads; as many as there are processors unless given.

    Returns
    -------
    bytes
    """
    height, width = rgb8.shape[:2]
    across = -(-width // BLOCK)
    down = min(STRIP, _LONGEST_INTERVAL // across)
    starts = range(0, height, down * BLOCK)
    with ThreadPoolExecutor(workers or os.cpu_count()) as pool:
        strips = list(pool.map(lambda y: bytes(encode(rgb8[y : y + down * BLOCK])), starts))
    return strips[0] if len(strips) == 1 else _joined(strips, height, down * across)


def _joined(strips, height, interval):
    """One JPEG of all strips, which have `interval` blocks each but for the last."""
    segments = jpeg_segments(strips[0])
    frame, scan = next(s for s in segments if s.marker == _FRAME), segments[-1]
    head = bytearray(strips[0][: scan.offset + len(scan.payload)])
    struct.pack_into(">H", head, frame.offset + 1, height)
    before_scan = scan.offset - 4
    head[before_scan:before_scan] = struct.pack(">BBHH", 0xFF, _RESTART_INTERVAL, 4, interval)
    pieces = [bytes(head)]
    for k, strip in enumerate(strips):
        scan = jpeg_segments(strip)[-1]
        pieces.append(memoryview(strip)[scan.offset + len(scan.payload) : -2])
        pieces.append(bytes((0xFF, _RESTART + k % 8)))
    pieces[-1] = b"\xff\xd9"
    return b"".join(pieces)
