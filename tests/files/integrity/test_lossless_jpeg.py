"""Damage in lossless JPEG, on streams of libjpeg-turbo."""

import imagecodecs
import numpy as np
import pytest

import dng
from files.charts import MATRIX_D65
from grading.errors import OriginalError
from grading.files.integrity.lossless_jpeg import is_sound
from grading.files.metadata.tifftags import read_pictures, segments
from grading.files.originals import open_frame

NOISE = np.random.default_rng(1).integers(0, 16384, (256, 288)).astype(np.uint16)


def encode(picture, predictor=1):
    return imagecodecs.jpeg8_encode(
        np.ascontiguousarray(picture), lossless=True, predictor=predictor, bitspersample=16
    )


@pytest.mark.parametrize("predictor", range(1, 8))
@pytest.mark.parametrize(
    "picture",
    [
        NOISE,
        NOISE.reshape(256, 144, 2),
        NOISE.reshape(256, 96, 3),
        NOISE[:7, :5],
        np.full((64, 64), 700, np.uint16),
        np.indices((64, 64)).sum(0).astype(np.uint16) % 2 * 32768,  # differences of 16 bits
    ],
    ids=["one", "two", "three", "small", "flat", "widest"],
)
def test_whole_streams_are_sound(picture, predictor):
    assert is_sound(encode(picture, predictor))


def test_padding_after_the_stream_does_no_harm():
    assert is_sound(encode(NOISE) + b"\0")


@pytest.mark.parametrize("kept", [0, 1, 40, 0.3, 0.9])
def test_a_stream_cut_short(kept):
    stream = encode(NOISE)
    assert not is_sound(stream[: kept if isinstance(kept, int) else int(kept * len(stream))])


@pytest.mark.parametrize("filling", ["zeros", "ones", "random"])
def test_damaged_stretches_are_found(filling):
    """512 bytes, a sector of a card: all but a coincidence of one in some hundred."""
    rng, stream, found = np.random.default_rng(3), encode(NOISE), 0
    for _ in range(100):
        place = int(rng.integers(500, len(stream) - 514))
        piece = {"zeros": bytes(512), "ones": b"\xff" * 512, "random": rng.bytes(512)}[filling]
        found += not is_sound(stream[:place] + piece + stream[place + 512 :])
    assert found >= 95


def test_damaged_headers_are_never_more_than_unsound():
    rng, stream, found = np.random.default_rng(5), encode(NOISE[:16, :16]), 0
    for _ in range(400):
        content = bytearray(stream)
        for place in rng.integers(0, 120, 3):
            content[place] = rng.integers(256)
        found += not is_sound(content)
    assert 0 < found < 400


def test_other_kinds_count_as_sound():
    picture = (NOISE[..., None].repeat(3, 2) >> 6).astype(np.uint8)
    assert is_sound(imagecodecs.jpeg8_encode(picture))


@pytest.fixture
def written(tmp_path):
    path = tmp_path / "a.dng"
    mosaic = np.random.default_rng(2).integers(500, 9000, (600, 700)).astype(np.uint16)
    dng.write_dng(
        path, mosaic, white=16383, black=(400,) * 4, color_matrix1=MATRIX_D65, illuminant1="D65",
        as_shot_neutral=(0.5, 1, 0.6), compression="ljpeg",
    )  # fmt: skip
    return path


def test_a_damaged_raw_does_not_open(written):
    content = bytearray(written.read_bytes())
    start, end = segments(read_pictures(content)[0])[2]
    middle = (start + end) // 2
    content[middle : middle + 512] = bytes(512)
    written.write_bytes(content)
    with pytest.raises(OriginalError, match="damaged: part 3 of the 4 parts") as caught:
        open_frame(written)
    assert caught.value.remedy == "copy it again from the card"


def test_a_part_that_is_no_stream(written):
    content = bytearray(written.read_bytes())
    start, end = segments(read_pictures(content)[0])[0]
    content[start:end] = bytes(end - start)
    written.write_bytes(content)
    with pytest.raises(OriginalError, match="damaged: part 1 of the 4 parts"):
        open_frame(written)
