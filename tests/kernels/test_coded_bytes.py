"""Several bytes of a JPEG at once, against the same byte by byte."""

import numba
import numpy as np
import pytest

from grading.kernels.coded_bytes import is_data, load, none_is_255, store

EDGES = (0, 1, 127, 128, 254, 255)


@numba.njit
def loaded(stream, place):
    return load(stream, place)


@numba.njit
def stored(stream, place, number):
    store(stream, place, number)


@pytest.mark.parametrize("place", [0, 1, 2, 5, 8])
def test_eight_bytes_are_a_number_and_the_first_is_its_highest(place):
    stream = np.random.default_rng(place).integers(0, 256, 16).astype(np.uint8)
    number = int.from_bytes(stream[place : place + 8].tobytes(), "big")
    assert loaded(stream, place) == number
    copied = np.zeros(18, np.uint8)
    stored(copied, 3, np.uint64(number))
    np.testing.assert_array_equal(copied[3:11], stream[place : place + 8])
    assert not copied[:3].any() and not copied[11:].any()


def test_a_255_is_found_wherever_it_is():
    """Among bytes that a carry could go through, at each of the eight places."""
    rng, found = np.random.default_rng(1), numba.njit(lambda eight: none_is_255(eight))
    rows = rng.choice(EDGES[:-1], (200, 8)).astype(np.uint8)
    rows[100:][np.arange(100), rng.integers(0, 8, 100)] = 255
    for row in rows:
        assert found(np.uint64(int.from_bytes(row.tobytes(), "big"))) == (255 not in row)
    assert found(np.uint64(0))


@pytest.mark.parametrize(
    ("stream", "data"),
    [(b"\1", True), (b"\xff\0", True), (b"\xff\xd9", False), (b"\xff", False), (b"", False)],
)
def test_a_255_is_data_with_a_zero_after_it(stream, data):
    assert is_data(np.frombuffer(stream, np.uint8), 0) == data
