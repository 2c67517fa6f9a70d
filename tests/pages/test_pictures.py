"""Pictures as data URIs."""

import base64
import io

import numpy as np
import pytest
from PIL import Image

from grading.colour import oklab, spaces, transfer
from grading.pages import pictures


def opened(uri, kind):
    head, data = uri.split(",")
    assert head == f"data:image/{kind};base64"
    return Image.open(io.BytesIO(base64.b64decode(data)))


def test_a_photograph_keeps_its_codes_and_says_its_space():
    codes = np.full((16, 24, 3), (200, 120, 40), np.uint8)
    image = opened(pictures.photograph(codes, 95), "jpeg")
    assert np.abs(np.asarray(image).astype(int) - codes).max() <= 2
    assert b"sRGB" in image.info["icc_profile"].replace(b"\0", b"")


def test_the_scale_of_the_map_rises_evenly_in_lightness():
    light = transfer.decode("srgb", pictures.scale_of_map() / 255)
    lab = oklab.xyz_to_oklab(light @ spaces.rgb_to_xyz(spaces.SPACES["srgb"]).T)
    steps = np.diff(lab[::15, 0])
    assert steps.min() > 0.5 * steps.mean()
    assert steps.max() < 1.5 * steps.mean()


def test_the_map_stands_for_the_differences():
    delta_e = np.array([[0.0, 1.0, 5.0], [10.0, 30.0, 2.5]])
    found = np.asarray(opened(pictures.difference_map(delta_e), "png").convert("RGB"))
    place = np.round(np.clip(delta_e / 40, 0, 1) ** 0.5 * 255).astype(int)
    assert found.tolist() == pictures.scale_of_map()[place].tolist()


def test_marks_are_stripes_where_it_is_clipped_and_clear_elsewhere():
    ends = np.zeros((2, 24, 30), bool)
    ends[0, :12, :12] = True
    ends[1, 12:, 15:] = True
    found = np.asarray(opened(pictures.clipping_marks(ends), "png").convert("RGBA"))
    shown = found[..., 3] == 255
    assert not shown[~ends.any(axis=0)].any()
    for area, colour in ((ends[0], pictures.BLACK_MARK), (ends[1], pictures.WHITE_MARK)):
        assert shown[area].mean() == pytest.approx(0.5, abs=0.05)
        assert (found[area & shown][:, :3] == colour).all()
