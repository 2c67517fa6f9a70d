"""What is to be delivered: sizes, spaces and what is refused."""

import pytest

from grading.engine.output import SHARPEN_SMALLER, Output
from grading.errors import OutputError


@pytest.mark.parametrize(
    ("keys", "reported"),
    [
        ({"format": "bmp"}, "format = 'bmp'; allowed: jpeg, tiff, tiff8, png"),
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
        ({"long_edge": 0}, "long_edge = 0"),
        ({"short_edge": 15}, "short_edge = 15; allowed: a whole number, 16 to 65500"),
        ({"box": [640]}, "box = [640]; allowed: width and height in pixels"),
        ({"box": (640, 0)}, "box = 0; allowed: a whole number, 16 to 65500"),
        ({"box": 640}, "box = 640"),
        ({"sharpen": 1.5}, "sharpen = 1.5; allowed: a number, 0 to 1"),
        ({"sharpen": "0.3"}, "sharpen = '0.3'"),
        ({"sharpen": float("nan")}, "sharpen = nan"),
        ({"format": "avif", "space": "oprgb"}, "avif has no way to state the space oprgb; allowed:"
                                               " srgb, display-p3, bt2020, grey"),
        ({"format": "jxl", "space": "bt2020"}, "allowed: srgb, grey; choose another format"),
        ({"box": (640, 480), "short_edge": 300}, "short_edge and box are stated together;"
                                                 " allowed: one of long_edge, short_edge and box"),
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


@pytest.mark.parametrize(
    ("keys", "frame", "size"),
    [
        ({"short_edge": 1000}, (6000, 4000), (1500, 1000)),
        ({"short_edge": 1000}, (4000, 6000), (1000, 1500)),
        ({"short_edge": 5000}, (6000, 4000), (6000, 4000)),
        ({"box": (1920, 1080)}, (6000, 4000), (1620, 1080)),
        ({"box": (1920, 1080)}, (4000, 6000), (720, 1080)),
        ({"box": [1920, 1080]}, (6000, 2000), (1920, 640)),
        ({"box": (7000, 3000)}, (6000, 4000), (4500, 3000)),
        ({"box": (7000, 5000)}, (6000, 4000), (6000, 4000)),
        ({"box": (16, 16)}, (6000, 100), (16, 1)),
    ],
)
def test_short_edge_and_box(keys, frame, size):
    output = Output(**keys)
    assert output.size(*frame) == size and output.resizes


@pytest.mark.parametrize("frame", [(6001, 3997), (17, 9999), (640, 481), (2999, 3001)])
def test_a_picture_fits_into_its_box(frame):
    for box in ((1000, 700), (333, 335), (641, 640), (16, 5000)):
        width, height = Output(box=box).size(*frame)
        assert width <= box[0] and height <= box[1]
        assert (width, height) == frame or width == box[0] or height == box[1]


def test_bits_and_curves():
    names = ("jpeg", "tiff", "tiff8", "png", "png16", "avif", "jxl")
    assert [Output(name).bits for name in names] == [8, 16, 8, 8, 16, 10, 8]
    spaces = ("srgb", "display-p3", "bt2020", "oprgb", "grey")
    curves = ["srgb", "srgb", "bt2020", "oprgb", "srgb"]
    assert [Output(space=s).curve for s in spaces] == curves
    assert not Output().resizes


def test_what_a_size_is_asked_for_is_sharpened_unless_stated_otherwise():
    assert Output().sharpen == 0 and Output("tiff", quality=80).sharpen == 0
    for size in ({"long_edge": 500}, {"short_edge": 500}, {"box": (500, 400)}):
        assert Output(**size).sharpen == SHARPEN_SMALLER
        assert Output(**size, sharpen=0).sharpen == 0
    assert Output(sharpen=0.7).sharpen == 0.7
