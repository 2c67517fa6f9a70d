"""Strips joined into one JPEG decode to the very picture that was encoded whole."""

from functools import partial
from io import BytesIO

import imagecodecs
import numpy as np
import pytest
from PIL import Image

from grading.files.formats.jpegstrips import BLOCK, STRIP, encode_in_strips
from grading.files.metadata.containers import jpeg_segments

encode = partial(imagecodecs.jpeg8_encode, level=92, subsampling="444")
ROWS = BLOCK * STRIP


def picture(height, width):
    rng = np.random.default_rng(height + width)
    y, x = np.mgrid[:height, :width]
    waves = 120 + 60 * np.sin(x / 9 + y / 17)[..., None] + rng.normal(0, 9, (height, width, 3))
    return np.ascontiguousarray(waves.clip(0, 255).astype(np.uint8))


@pytest.mark.parametrize("height", [1, 8, ROWS - 1, ROWS, ROWS + 1, 2 * ROWS + 9, 10 * ROWS + 3])
@pytest.mark.parametrize("width", [1, 8, 33])
@pytest.mark.parametrize("channels", ["colour", "grey"])
def test_the_same_picture_as_encoded_whole(height, width, channels):
    """By libjpeg in two packages."""
    codes = picture(height, width)
    codes = codes[..., 0].copy() if channels == "grey" else codes
    whole, joined = bytes(encode(codes)), encode_in_strips(codes, encode)
    for decode in (imagecodecs.jpeg8_decode, lambda data: np.asarray(Image.open(BytesIO(data)))):
        np.testing.assert_array_equal(decode(joined), decode(whole))


def test_a_wide_picture_keeps_within_the_longest_restart_interval():
    codes = picture(80, 60_000)
    joined = encode_in_strips(codes, encode)
    (interval,) = [s.payload for s in jpeg_segments(joined) if s.marker == 0xDD]
    across = 60_000 // BLOCK
    assert int.from_bytes(interval, "big") == 65535 // across * across
    np.testing.assert_array_equal(
        imagecodecs.jpeg8_decode(joined), imagecodecs.jpeg8_decode(bytes(encode(codes)))
    )


def test_a_picture_of_one_strip_has_no_restart_interval():
    joined = encode_in_strips(picture(ROWS, 40), encode)
    assert all(segment.marker != 0xDD for segment in jpeg_segments(joined))
