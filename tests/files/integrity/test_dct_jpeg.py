"""Damage in lossy JPEG, on streams of libjpeg-turbo by way of Pillow."""

import io

import numpy as np
import pytest
from PIL import Image

from files.damage import picture
from grading.files.integrity.dct_jpeg import is_sound

OPTIONS = [
    {"quality": 95, "subsampling": 0},
    {"quality": 90, "subsampling": 1},
    {"quality": 30, "subsampling": 2, "optimize": True},
    {"quality": 90, "restart_marker_blocks": 7},
    {"quality": 90, "subsampling": 2, "restart_marker_rows": 1},
    {"quality": 90, "progressive": True},
    {"quality": 100, "subsampling": 2, "progressive": True, "restart_marker_blocks": 5},
]


def encode(rgb, mode="RGB", **options):
    file = io.BytesIO()
    Image.fromarray(rgb).convert(mode).save(file, "JPEG", **options)
    return file.getvalue()


@pytest.mark.parametrize("mode", ["RGB", "L"])
@pytest.mark.parametrize("options", OPTIONS)
@pytest.mark.parametrize("size", [(90, 130), (1, 1), (17, 8)])
def test_whole_streams_are_sound(size, mode, options):
    assert is_sound(encode(picture(*size), mode, **options))


@pytest.mark.parametrize("options", OPTIONS)
def test_damaged_stretches_are_found(options):
    """64 bytes after the header of the first scan: all but a coincidence of a few in a hundred."""
    rng, stream, found = np.random.default_rng(3), encode(picture(180, 260), **options), 0
    start = stream.index(b"\xff\xda") + 20
    for _ in range(100):
        place = int(rng.integers(start, len(stream) - 66))
        found += not is_sound(stream[:place] + rng.bytes(64) + stream[place + 64 :])
    assert found >= 93


@pytest.mark.parametrize("kept", [0, 1, 40, 300, 0.5, 0.99])
def test_a_stream_cut_short(kept):
    stream = encode(picture())
    assert not is_sound(stream[: kept if isinstance(kept, int) else int(kept * len(stream))])


def test_a_stream_without_a_scan_of_each_component():
    stream = encode(picture(), progressive=True)
    second = stream.index(b"\xff\xda", stream.index(b"\xff\xda") + 2)
    tables = stream.rindex(b"\xff\xc4", 0, second)
    assert is_sound(stream[:tables] + b"\xff\xd9")  # a coarse picture, but of all components
    first = stream.index(b"\xff\xda")
    assert not is_sound(stream[: stream.rindex(b"\xff\xc4", 0, first)] + b"\xff\xd9")


def test_damaged_headers_are_never_more_than_unsound():
    rng, stream, found = np.random.default_rng(5), encode(picture(16, 16)), 0
    for _ in range(400):
        content = bytearray(stream)
        for place in rng.integers(0, 640, 3):
            content[place] = rng.integers(256)
        found += not is_sound(content)
    assert 0 < found < 400


def test_a_frame_of_absurd_size_takes_no_memory():
    content = bytearray(encode(picture()))
    frame = content.index(b"\xff\xc0")
    content[frame + 5 : frame + 9] = b"\xff\xff\xff\xff"
    assert not is_sound(content)
