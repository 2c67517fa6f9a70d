"""What is to be delivered: sizes, spaces and what is refused."""

import pytest

from grading.engine.output import Output
from grading.errors import OutputError


@pytest.mark.parametrize(
    ("keys", "reported"),
    [
        ({"format": "bmp"}, "format = 'bmp'; allowed: jpeg, tiff"),
        ({"format": ["jpeg"]}, "allowed: jpeg, tiff"),
        ({"space": "cmyk"}, "space = 'cmyk'; allowed: srgb"),
        ({"quality": 0}, "quality = 0; allowed: a whole number, 1 to 100"),
        ({"quality": 101}, "quality = 101"),
        ({"quality": "92"}, "quality = '92'"),
        ({"quality": 92.5}, "quality = 92.5"),
        ({"long_edge": 15}, "long_edge = 15"),
        ({"long_edge": 65501}, "long_edge = 65501; allowed: a whole number, 16 to 65500"),
        ({"long_edge": 1e9}, "long_edge = 1000000000.0"),
        ({"long_edge": float("nan")}, "long_edge = nan"),
    ],
)
def test_what_cannot_be_delivered_is_reported(keys, reported):
    with pytest.raises(OutputError) as caught:
        Output(**keys)
    assert reported in str(caught.value)


@pytest.mark.parametrize(
    ("long_edge", "frame", "size"),
    [
        (None, (6000, 4000), (6000, 4000)),
        (2048, (6000, 4000), (2048, 1365)),
        (2048, (4000, 6000), (1365, 2048)),
        (2048, (2048, 1000), (2048, 1000)),
        (2048, (1000, 700), (1000, 700)),
        (16, (6000, 100), (16, 1)),
        (100, (300, 300), (100, 100)),
    ],
)
def test_size(long_edge, frame, size):
    """The long edge as asked for, the other to the nearest pixel; never larger than the frame."""
    assert Output(long_edge=long_edge).size(*frame) == size


def test_bits_and_curves():
    assert (Output().bits, Output(format="tiff").bits) == (8, 16)
    assert [Output(space=s).curve for s in ("srgb", "display-p3", "bt2020")] == [
        "srgb",
        "srgb",
        "bt2020",
    ]
