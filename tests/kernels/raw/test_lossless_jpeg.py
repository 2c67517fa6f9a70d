"""Decoding of lossless JPEG: what was encoded comes back, and what is damaged is noticed.

The encoder of `files.lossless`, written from the standard in plain NumPy, is the kernel's twin.
"""

import numpy as np
import pytest

from files import lossless
from grading.files.integrity.lossless_jpeg import decode, read_header
from grading.kernels.raw import lossless_jpeg as kernel
from kernels.guards import guarded

SHAPES = [(1, 1, 1), (1, 9, 3), (2, 1, 4), (3, 700, 2), (7, 5, 1), (9, 64, 2)]
SCAN = kernel.Scan(
    precision=16, rows=1, columns=1,
    counts=np.array([[1, 1, 1] + [0] * 13], np.uint8),
    symbols=np.array([[0, 0x0101, 0x0808]], np.uint16), predictor=1, interval=0,
)  # fmt: skip
"""Codes 0, 10 and 110 for differences of 0, 1 and 8 bits."""


def noise(shape, precision=16, seed=0):
    return np.random.default_rng(seed).integers(0, 1 << precision, shape).astype(np.uint16)


def decoded(stream, long_extra=False, gap=0):
    """The samples of a stream, with `gap` samples between its rows, and whether it is sound."""
    header = read_header(stream, long_extra)
    stride = header.size // header.rows + gap
    samples = np.full(header.rows * stride, 77, np.uint16)
    sound = decode(stream, header, samples, 0, stride)
    return samples.reshape(header.rows, stride), sound


@pytest.mark.parametrize("lengths", [lossless.EVEN, lossless.UNEVEN], ids=["even", "uneven"])
@pytest.mark.parametrize("interval", [0, 1, 2, 5])
@pytest.mark.parametrize("predictor", range(1, 8))
def test_what_was_encoded_comes_back(predictor, interval, lengths):
    for shape in SHAPES:
        for precision in (16, 14, 9):
            samples = noise(shape, precision) >> (lengths is lossless.UNEVEN)
            stream = lossless.encode(samples, precision, predictor, lengths, interval)
            found, sound = decoded(stream)
            assert sound
            np.testing.assert_array_equal(found.reshape(shape), samples)


@pytest.mark.parametrize("predictor", range(1, 8))
def test_smooth_pictures_and_flat_ones(predictor):
    ramp = (np.indices((40, 30, 2)).sum(0) * 300).astype(np.uint16)
    for samples in (ramp, ramp * 0 + 700):
        found, sound = decoded(lossless.encode(samples, 16, predictor))
        assert sound
        np.testing.assert_array_equal(found.reshape(samples.shape), samples)


@pytest.mark.parametrize("long_extra", [False, True])
def test_differences_of_32768(long_extra):
    """No bits follow them (T.81, table H.2); in files of DNG 1.0 it is 16."""
    samples = (np.indices((6, 5, 1)).sum(0) % 2 * 32768).astype(np.uint16)
    stream = lossless.encode(samples, long_extra=long_extra)
    found, sound = decoded(stream, long_extra)
    assert sound
    np.testing.assert_array_equal(found, samples[..., 0])
    assert not decoded(stream, not long_extra)[1]


def test_components_have_codes_of_their_own():
    """0 and 10 for differences of 0 and 1 bits; and 00 for one of 2."""
    scan = SCAN._replace(
        columns=2, counts=np.array([[1, 1] + [0] * 14, [0, 1] + [0] * 14], np.uint8),
        symbols=np.array([[0, 0x0101], [0x0202, 0]], np.uint16),
    )  # fmt: skip
    samples = np.zeros(4, np.uint16)
    assert kernel.decode(bits("0 0011 101 0001 1111"), 0, scan, samples, 0, 4)
    np.testing.assert_array_equal(samples - 32768, [0, 3, 1, 1])


def test_rows_go_where_they_are_told_to():
    samples = noise((6, 10, 2))
    found, sound = decoded(lossless.encode(samples), gap=7)
    assert sound
    np.testing.assert_array_equal(found[:, :20], samples.reshape(6, 20))
    assert (found[:, 20:] == 77).all()


def bits(text, marker=b"\xff\xd9"):
    """Bytes of a text of bits, with a zero after each 255 and a marker at the end."""
    text = text.replace(" ", "")
    coded = int(text, 2).to_bytes(len(text) // 8, "big").replace(b"\xff", b"\xff\0")
    return np.frombuffer(coded + marker, np.uint8)


@pytest.mark.parametrize(
    ("text", "columns", "differences"),
    [
        ("0 101 0 111", 2, [0, 1]),
        ("0 101 0 100", 4, [0, 1, 0, -1]),
        ("110 11111111 110 01111111 11", 2, [255, -128]),
        ("0 101 0 111" + "0" * 8, 2, [0, 1]),
        ("0 101 0 111" + "0" * 16, 2, None),  # more than padding
        ("0 101 0 111", 5, None),  # 110 is cut off
        ("111 00000", 1, None),  # no such code
        ("0 0 0 0 0 110", 6, None),  # its 8 bits are missing
    ],
)
def test_codes_written_out_by_hand(text, columns, differences):
    samples = np.zeros(columns, np.uint16)
    scan = SCAN._replace(columns=columns)
    sound = kernel.decode(bits(text), 0, scan, samples, 0, columns)
    assert sound == (differences is not None)
    if sound:
        expected = (32768 + np.cumsum(differences)).astype(np.uint16)
        np.testing.assert_array_equal(samples, expected)


@pytest.mark.parametrize(
    ("stream", "columns", "sound"),
    [
        (b"\xff\0\xff\0", 4, True),
        (b"\xff\0\xff\xd9\0", 2, True),
        (b"\xff\0\xff\xd9\0", 4, False),
        (b"\xff\0\xff", 2, True),
        (b"\xff\0\xff", 4, False),
        (b"\xff", 1, False),
    ],
)
def test_a_255_is_data_with_a_zero_after_it_and_else_the_end(stream, columns, sound):
    """A byte has two codes of 4 bits; eight bytes at once are read in another way than one."""
    counts, symbols = np.array([[0] * 3 + [16] + [0] * 12]), np.zeros((1, 16), np.uint16)
    for before in (0, 1, 7, 8, 23):
        scan = SCAN._replace(
            columns=columns + 2 * before, counts=counts.astype(np.uint8), symbols=symbols
        )
        whole, samples = np.frombuffer(bytes(before) + stream, np.uint8), np.zeros(60, np.uint16)
        assert kernel.decode(whole, 0, scan, samples, 0, 60) == sound


def test_samples_of_more_bits_than_there_are_show_damage():
    samples = noise((8, 8, 1), 13)
    stream = bytearray(lossless.encode(samples, 14))
    assert decoded(stream)[1]
    stream[stream.index(b"\xff\xc3") + 4] = 12
    assert not decoded(stream)[1]


@pytest.mark.parametrize("change", ["another number", "no marker", "left out"])
def test_restarts_that_are_not_as_stated(change):
    stream = lossless.encode(noise((6, 40, 2)), interval_rows=2)
    place = stream.index(b"\xff\xd1")
    other = {"another number": b"\xff\xd2", "no marker": b"\x12\x34", "left out": b""}[change]
    assert decoded(stream)[1]
    assert not decoded(stream[:place] + other + stream[place + 2 :])[1]
    assert decoded(stream[:place] + b"\xff\xff\xff\xd1" + stream[place + 2 :])[1]


def test_nothing_beyond_a_stream_or_its_samples_is_touched():
    """Wherever a file is cut off, also between a 255 and what says whether it is data."""
    samples = noise((5, 30, 2), seed=1)
    stream = np.frombuffer(lossless.encode(samples, interval_rows=2), np.uint8)
    header = read_header(stream.tobytes())
    ends = [header.place, *range(header.place + 1, stream.size, 7), stream.size]
    ends += (np.flatnonzero(stream[header.place :] == 255) + header.place + 1).tolist()
    for end in ends:

        def work(cut, found):
            return np.array(decode(cut, header, found, 0, 60))

        sound, *_ = guarded(work, stream[:end], np.zeros(300, np.uint16))
        assert sound == (end >= stream.size - 2)
