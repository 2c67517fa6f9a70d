"""The walk through Huffman codes, on streams written out by hand (ITU-T T.81, annexes F and H)."""

import numpy as np
import pytest

from grading.files.integrity.lossless_jpeg import _steps
from grading.kernels.integrity.lossless_codes import DAMAGED, left_over
from kernels.guards import guarded

# Codes 0, 10 and 110 for differences of 0, 1 and 8 bits
TABLE = _steps(bytes([1, 1, 1] + [0] * 13), bytes([0, 1, 8]), False)


def stream(text, marker=b"\xff\xd9"):
    """Bytes of a text of bits, with a zero after each 255 and a marker at the end."""
    bits = text.replace(" ", "")
    coded = int(bits, 2).to_bytes(len(bits) // 8, "big").replace(b"\xff", b"\xff\0")
    return np.frombuffer(coded + marker, np.uint8)


@pytest.mark.parametrize(
    ("text", "samples", "left"),
    [
        ("0 101 0 111", 2, 4),
        ("0 101 0 100", 4, 0),
        ("110 11111111 110 11111111 11", 2, 2),
        ("0 101 0 111", 5, DAMAGED),  # 110 is cut off
        ("111 00000", 1, DAMAGED),  # no such code
        ("0 0 0 0 0 110", 6, DAMAGED),  # its 8 bits are missing
    ],
)
def test_codes_are_counted(text, samples, left):
    assert left_over(stream(text), TABLE[None], samples) == left


@pytest.mark.parametrize("end", [b"", b"\xff", b"\xff\0", b"\xff\xd9"])
@pytest.mark.parametrize("text", ["0 101 0 111", "110 11111111 110 11111111 11", "111 00000"])
def test_nothing_beyond_a_stream_is_read(text, end):
    """Wherever a file is cut off, also between a 255 and what says whether it is data."""
    for samples in (1, 2, 3, 40):

        def walk(bytes_, samples=samples):
            return np.array(left_over(bytes_, TABLE[None], samples))

        guarded(walk, stream(text, end))


def test_components_take_turns():
    other = _steps(bytes([0, 1] + [0] * 14), bytes([2]), False)  # 00 for a difference of 2 bits
    assert left_over(stream("0 0011 101 0001 1111"), np.stack([TABLE, other]), 2) == 4


def test_a_255_is_data_with_a_zero_after_it_and_else_the_end():
    assert left_over(np.frombuffer(b"\xff\0\xff\0", np.uint8), _flat(8), 2) == 0
    assert left_over(np.frombuffer(b"\xff\0\xff\xd9\0", np.uint8), _flat(8), 2) == DAMAGED


@pytest.mark.parametrize("length", [17, 31, 32])
def test_the_longest_codes_and_their_bits(length):
    """A code of 16 bits with as many after it (T.81, F.1.2.1 and H.1.2.2)."""
    bits = np.zeros(-(-4 * length // 8), np.uint8)
    assert left_over(bits, _flat(length), 4) == 8 * bits.size - 4 * length
    assert left_over(bits[:-1], _flat(length), 4) == DAMAGED


def _flat(length):
    """A table in which every code with its bits is so long."""
    return np.full((1, 65536), length, np.uint8)


def test_no_bits_follow_a_difference_of_32768():
    """T.81, table H.2; files of DNG 1.0 have 16."""
    counts, categories = bytes([1] + [0] * 15), bytes([16])
    assert _steps(counts, categories, False)[0] == 1
    assert _steps(counts, categories, True)[0] == 17
