"""Histograms and clipping of codes."""

import numpy as np
import pytest

from grading.inspect.codes import clipped, histogram


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_histogram_puts_each_code_in_its_bin(kind):
    top = np.iinfo(kind).max
    red, green, blue = [0, 0, top, top // 2], [top] * 4, [0, top // 4 + 1, top // 2 + 1, top]
    shares = histogram(np.stack([red, green, blue], axis=-1).astype(kind)[None], bins=4)
    assert shares.tolist() == [[0.5, 0.25, 0, 0.25], [0, 0, 0, 1], [0.25, 0.25, 0.25, 0.25]]


def test_histogram_agrees_with_numpy():
    codes = np.random.default_rng(3).integers(0, 256, (40, 30, 3), np.uint8)
    for channel, shares in zip(np.moveaxis(codes, -1, 0), histogram(codes), strict=True):
        assert shares == pytest.approx(np.histogram(channel, 64, (0, 256))[0] / 1200)


def test_clipped_where_any_channel_ends():
    codes = np.full((2, 3, 3), 100, np.uint8)
    codes[0, 0] = (0, 100, 100)
    codes[1, 2] = (9, 255, 254)
    black, white = clipped(codes)
    assert np.argwhere(black).tolist() == [[0, 0]]
    assert np.argwhere(white).tolist() == [[1, 2]]


def test_a_single_pixel_still_shows_at_reduced_size():
    codes = np.full((50, 70, 3), 30000, np.uint16)
    codes[49, 69, 2] = 65535
    black, white = clipped(codes, 16)
    assert white.shape == (4, 5)
    assert np.argwhere(white).tolist() == [[3, 4]]
    assert not black.any()
