"""Damage in lossless JPEG streams, which the decoder of raws passes over in silence.

Structure and codes: ITU-T T.81, annexes B and H.
"""

from functools import lru_cache

import numpy as np

from grading.files.integrity.huffman import by_first_bits, huffman_tables
from grading.files.metadata.containers import jpeg_segments

_START, _LOSSLESS, _TABLES, _RESTARTS, _SCAN = b"\xff\xd8", 0xC3, 0xC4, 0xDD, 0xDA
_PADDING = 15  # bits that may follow the last code: less than two bytes


def is_sound(stream, long_extra=False):
    """Whether a lossless JPEG stream holds as many codes as its header promises.

    A damaged stretch puts the walk through its codes out of step, so that their number does not
    come out. A changed bit among those that are no code is not noticed, nor is anything in a
    stream of another kind (not lossless, with restarts or with subsampled components), which
    counts as sound.

    Parameters
    ----------
    stream : bytes-like
        From its first marker to the end of its segment of the file.
    long_extra : bool
        Whether 16 bits follow a difference of 32768, as in files of DNG 1.0; T.81 has none.

    Returns
    -------
    bool
    """
    from grading.kernels.integrity.lossless_codes import left_over

    try:
        scan = _read_header(stream, long_extra)
    except (IndexError, KeyError, ValueError):
        return False
    if scan is None:
        return True
    samples, tables, place = scan
    codes = np.frombuffer(stream, np.uint8)[place:]
    return 0 <= left_over(codes, np.stack(tables), samples) <= _PADDING


def _read_header(stream, long_extra):
    """Samples, tables and place of the one interleaved scan; None if it is of another kind."""
    if stream[:2] != _START:
        raise ValueError("no start of image")
    tables, components, size = {}, [], 0
    for marker, offset, body in jpeg_segments(stream):
        if marker == _TABLES:
            tables |= {n & 15: _steps(*table, long_extra) for n, *table in huffman_tables(body)}
        elif marker == _LOSSLESS:
            size = int.from_bytes(body[1:3], "big") * int.from_bytes(body[3:5], "big")
            components = [body[7 + 3 * k] for k in range(body[5])]
        elif 0xC0 <= marker <= 0xCF or marker == _RESTARTS:
            return None
        elif marker == _SCAN and components:
            if len(components) != body[0] or any(sampling != 0x11 for sampling in components):
                return None
            codes_of = [tables[body[2 + 2 * k] >> 4] for k in range(body[0])]
            return size, codes_of, offset + len(body)
    raise ValueError("no scan, or one without a frame")


@lru_cache(maxsize=16)
def _steps(counts, categories, long_extra):
    """Length of a code and of the bits after it, for any 16 bits."""
    extra = np.frombuffer(categories, np.uint8).astype(int)
    if not long_extra:
        extra[extra == 16] = 0
    return by_first_bits(counts, lambda lengths: lengths + extra, np.uint8)
