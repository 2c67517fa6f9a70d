"""Opcode lists are read as they were written, and what is damaged is refused."""

import struct

import numpy as np
import pytest

from files.opcode_lists import gain_map, listed, vignette, warp
from grading.files.metadata.opcodes import Unknown, read_opcodes

RED, GREEN, BLUE = np.arange(18.0).reshape(3, 6) / 100
GAINS = 1 + np.arange(24).reshape(3, 4, 2) / 10
ALL = (warp(RED, GREEN, BLUE, centre=(0.4, 0.6)), vignette(0.1, 0.2, 0.3, 0.4, 0.5),
       gain_map(GAINS, (30, 40), (1, 0), (2, 2), (0, 2), (0.1, 0.2)))  # fmt: skip


def test_values_come_back():
    one, two, three = read_opcodes(listed(*ALL))
    np.testing.assert_array_equal(one.planes, [RED, GREEN, BLUE])
    assert one.centre == (0.4, 0.6) and two.gain == (0.1, 0.2, 0.3, 0.4, 0.5)
    assert (three.area, three.planes, three.pitch) == ((1, 0, 30, 40), range(2), (2, 2))
    assert three.spacing == (0.45, 0.8 / 3) and three.origin == (0.1, 0.2)
    np.testing.assert_array_equal(three.gains, GAINS.astype(np.float32))


def test_what_is_not_known_is_named_with_whether_it_may_be_left_out():
    found = read_opcodes(listed((2, b"abcd", True), (99, b"")))
    assert found == [Unknown("WarpFisheye", True), Unknown("opcode 99", False)]


@pytest.mark.parametrize("number", range(len(ALL)))
def test_whatever_is_cut_off_is_refused(number):
    data = listed(ALL[number])
    for length in range(len(data)):
        with pytest.raises(ValueError):
            read_opcodes(data[:length])


@pytest.mark.parametrize(
    "data",
    [
        struct.pack(">I", 257),
        listed(warp(RED, GREEN)),
        listed(warp([np.nan] * 6)),
        listed(vignette(np.inf)),
        listed(vignette(0.1, centre=(1.5, 0.5))),
        listed(gain_map(0 * GAINS, (30, 40))),
        listed(gain_map(GAINS, (30, 40), pitch=(0, 1))),
        listed(gain_map(GAINS, (30, 40), origin=(1, 0))),
        listed((9, struct.pack(">10I4dI", *[1] * 8, 2**31, 2**31, 1, 1, 0, 0, 1))),
        listed((1, struct.pack(">I", 3))),
    ],
)
def test_what_makes_no_sense_is_refused(data):
    with pytest.raises(ValueError):
        read_opcodes(data)
