"""Masks from pictures: over the whole frame whatever their size, in tiles and previews."""

import hashlib

import imagecodecs
import numpy as np
import pytest
import tifffile

from cut_pieces import PIECES, cuts
from grading.errors import RecipeError
from grading.grey_image import read_grey
from grading.masks.shape import Ground
from grading.masks.where import Where, prepare_mask
from grading.region import Region


def written(path, codes):
    if path.suffix == ".png":
        path.write_bytes(imagecodecs.png_encode(codes))
    else:
        tifffile.imwrite(path, codes)
    return path


def mask_of(path, width, height):
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    where = Where.model_validate({"image": {"file": str(path), "sha256": digest}})
    return prepare_mask(where, Ground(width, height))


def ramp(height, width, top, kind):
    return np.rint(np.linspace(0, top, height * width).reshape(height, width)).astype(kind)


@pytest.mark.parametrize("name", ["a.png", "a.tif"])
@pytest.mark.parametrize(("kind", "top"), [(np.uint8, 255), (np.uint16, 65535)])
def test_codes_are_weights(tmp_path, name, kind, top):
    codes = ramp(20, 30, top, kind)
    found = mask_of(written(tmp_path / name, codes), 30, 20)(Region.whole(20, 30), None)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, codes / top, atol=1e-6)


@pytest.mark.parametrize("size", [(120, 80), (75, 50), (15, 10), (7, 5), (200, 30)])
def test_it_is_laid_over_the_whole_frame(tmp_path, size):
    """In between linearly; of a much larger picture, means."""
    width, height = size
    codes = np.tile(np.linspace(0, 65535, 60), (40, 1)).astype(np.uint16)
    found = mask_of(written(tmp_path / "a.png", codes), *size)(Region.whole(height, width), None)
    place = (np.arange(width) + 0.5) * 60 / width - 0.5
    np.testing.assert_allclose(found, np.tile(np.clip(place / 59, 0, 1), (height, 1)), atol=0.02)


@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_agree_bit_for_bit(tmp_path, pieces):
    codes = np.random.default_rng(0).integers(0, 256, (23, 31), dtype=np.uint8)
    mask = mask_of(written(tmp_path / "a.png", codes), 70, 50)
    whole = mask(Region.whole(50, 70), None)
    for y0, y1, x0, x1 in cuts(50, 70, pieces):
        part = mask(Region(y0, y1, x0, x1), None)
        np.testing.assert_array_equal(part, whole[y0:y1, x0:x1])


def test_another_file_is_refused(tmp_path):
    path = written(tmp_path / "a.png", ramp(9, 9, 255, np.uint8))
    where = Where.model_validate({"image": {"file": str(path), "sha256": "0" * 64}})
    with pytest.raises(RecipeError, match="not the file that the recipe was settled with"):
        prepare_mask(where, Ground(9, 9))


GREY = np.zeros((4, 6), np.uint8)
UNFIT = {
    "colours.png": imagecodecs.png_encode(np.dstack([GREY] * 3)),
    "transparent.png": imagecodecs.png_encode(np.dstack([GREY] * 2)),
    "text.png": b"no picture at all",
    "nothing.png": b"",
    "cut.png": imagecodecs.png_encode(GREY)[:50],
    "head.png": imagecodecs.png_encode(GREY)[:12],
}


@pytest.mark.parametrize("name", UNFIT)
def test_what_is_no_grey_picture_is_refused(tmp_path, name):
    (tmp_path / name).write_bytes(UNFIT[name])
    with pytest.raises(RecipeError, match=f"{name}: .*(cannot be a mask|cannot be decoded)"):
        read_grey(tmp_path / name)


@pytest.mark.parametrize("codes", [np.zeros((4, 6, 3), np.uint8), np.zeros((4, 6), np.float32)])
def test_other_kinds_of_tiff_are_refused(tmp_path, codes):
    with pytest.raises(RecipeError, match="cannot be a mask"):
        read_grey(written(tmp_path / "a.tif", codes))


def test_a_header_that_promises_too_much_is_refused_before_it_is_decoded(tmp_path):
    data = bytearray(imagecodecs.png_encode(GREY))
    data[16:24] = (60000).to_bytes(4, "big") * 2
    (tmp_path / "a.png").write_bytes(data)
    with pytest.raises(RecipeError, match="cannot hold 60000 x 60000 pixels"):
        read_grey(tmp_path / "a.png")


def test_no_file_and_no_regular_file_are_refused(tmp_path):
    with pytest.raises(RecipeError, match="there is no such file"):
        read_grey(tmp_path / "a.png")
    with pytest.raises(RecipeError, match="cannot be read"):
        read_grey(tmp_path)
