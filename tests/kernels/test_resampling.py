"""Lanczos resampling against published values, double precision and another library."""

import numpy as np
import pytest
from PIL import Image

from grading import kernels
from grading.colour import transfer
from grading.kernels.resampling import taps
from kernels.guards import ODD_SHAPES, guarded

LINEAR = (np.arange(65536) / 65535).astype(np.float32)
SRGB = transfer.decode("srgb", np.arange(65536) / 65535).astype(np.float32)


def resized(light, size, top, bottom):
    """Rows top:bottom of planes of light at another size, (width, height)."""
    start, weights = (each[top:bottom] for each in taps(light.shape[1], size[1]))
    between = np.empty((3, bottom - top, light.shape[2]), np.float32)
    kernels.resampling.resample_columns(light, start, weights, between)
    out = np.empty((3, bottom - top, size[0]), np.float32)
    kernels.resampling.resample_rows(between, *taps(light.shape[2], size[0]), out)
    return out


def light_of(codes, decode=LINEAR):
    return np.ascontiguousarray(decode[codes].transpose(2, 0, 1))


def resample(codes, size, decode=LINEAR):
    return resized(light_of(codes, decode), size, 0, size[1])


def codes(rows, columns, seed=0):
    return np.random.default_rng(seed).integers(0, 65536, (rows, columns, 3), dtype=np.uint16)


def lanczos(x):
    """L(x) = sinc(x) sinc(x / 3) within |x| < 3 (Duchon, J. Appl. Meteorol. 18:1016, 1979)."""
    return np.where(np.abs(x) < 3, np.sinc(x) * np.sinc(x / 3), 0)


def test_window_at_half_a_pixel():
    """L(0.5), L(1.5), L(2.5) = 0.60793, -0.13509, 0.02432, so that the six taps about half a pixel
    sum to 0.99430, which normalising makes 1."""
    assert lanczos(np.array([0.5, 1.5, 2.5])) == pytest.approx(
        [0.60793, -0.13509, 0.02432], abs=5e-6
    )
    start, weights = taps(20, 30)
    target = 16  # its middle, (16 + 0.5) * 2 / 3 - 0.5 = 10.5, lies between two pixels
    half = weights[target, 8 - start[target] : 14 - start[target]]
    exact = np.array([0.02432, -0.13509, 0.60793, 0.60793, -0.13509, 0.02432]) / 0.99430
    np.testing.assert_allclose(half, exact, atol=1e-5)


@pytest.mark.parametrize(
    ("source", "target"), [(1, 1), (7, 3), (100, 33), (640, 639), (5, 1), (12, 30)]
)
def test_weights_sum_to_one_within_the_source(source, target):
    start, weights = taps(source, target)
    np.testing.assert_allclose(weights.sum(axis=1, dtype=np.float64), 1, atol=3e-7)
    assert start.min() >= 0 and (start + weights.shape[1]).max() <= source


@pytest.mark.parametrize("size", [(1, 1), (13, 9), (31, 47), (32, 48)])
def test_flat_stays_flat(size):
    flat = np.full((48, 32, 3), 30000, np.uint16)
    np.testing.assert_allclose(resample(flat, size), 30000 / 65535, rtol=1e-6)


def test_same_size_is_the_same_picture():
    source = codes(15, 22)
    np.testing.assert_allclose(
        resample(source, (22, 15)), source.transpose(2, 0, 1) / 65535, atol=1e-6
    )


def twin(source, size):
    """By dense matrices in double precision."""

    def matrix(n, m):
        scale = n / m
        x = (np.arange(n) - ((np.arange(m)[:, None] + 0.5) * scale - 0.5)) / max(scale, 1)
        weights = lanczos(x)
        return weights / weights.sum(axis=1, keepdims=True)

    across, down = matrix(source.shape[1], size[0]), matrix(source.shape[0], size[1])
    return np.einsum("Yy,Xx,yxc->cYX", down, across, source / 65535.0)


SIZES = [(20, 14), (41, 29), (7, 3), (1, 1), (100, 70)]


@pytest.mark.parametrize("size", SIZES)
def test_agrees_with_double_precision(size):
    source = codes(57, 83)
    np.testing.assert_allclose(resample(source, size), twin(source, size), atol=1e-6)


@pytest.mark.parametrize("size", [(20, 14), (41, 29), (7, 3)])
def test_agrees_with_pillow(size):
    """Pillow's LANCZOS on 32-bit floats; it rounds its weights in its own way, hence 1e-5."""
    source = codes(57, 83)
    for c in range(3):
        channel = Image.fromarray((source[..., c] / 65535).astype(np.float32), mode="F")
        other = np.asarray(channel.resize(size, Image.Resampling.LANCZOS))
        np.testing.assert_allclose(resample(source, size)[c], other, atol=1e-5)


def test_checkerboard_halved_in_linear_light():
    """Half of the light is sRGB 187.5 of 255, where averaging codes would give 127.5."""
    board = np.indices((64, 64)).sum(axis=0) % 2
    source = np.repeat(board[..., None] * 65535, 3, axis=2).astype(np.uint16)
    middle = resample(source, (32, 32), SRGB)[:, 8:-8, 8:-8]
    np.testing.assert_allclose(255 * transfer.encode("srgb", middle), 187.5, atol=0.1)


@pytest.mark.parametrize("step", [1, 4, 64])
def test_strips_agree_bit_for_bit(step):
    source, size = codes(57, 83), (31, 22)
    whole = resample(source, size)
    for y in range(0, 22, step):
        end = min(y + step, 22)
        strip = resized(light_of(source), size, y, end)
        np.testing.assert_array_equal(strip, whole[:, y:end])


def test_rows_whose_room_was_given_to_others_are_not_needed():
    light = light_of(codes(57, 83))
    start, weights = (each[18:22] for each in taps(57, 22))
    room = np.full((3, 30, 96), np.nan, np.float32)
    for y in range(57):
        room[:, y % 30, :83] = light[:, y]
    found, whole = np.empty((3, 4, 83), np.float32), np.empty((3, 4, 83), np.float32)
    kernels.resampling.resample_columns(room, start, weights, found)
    kernels.resampling.resample_columns(light, start, weights, whole)
    np.testing.assert_array_equal(found, whole)


def test_nothing_beyond_odd_shapes_is_read():
    for rows, columns in ODD_SHAPES:
        source = codes(rows, columns)
        for width, height in ((columns, rows), (3, 2), (columns // 2 + 1, rows + 3)):
            first = height // 2

            def below(source, size=(width, height), first=first):
                return resized(source, size, first, size[1])

            strip, _ = guarded(below, light_of(source))
            if columns < 70:  # the twin's matrices are dense
                exact = twin(source, (width, height))[:, first:]
                np.testing.assert_allclose(strip, exact, atol=1e-6)


def test_ringing_beside_an_edge_is_that_of_the_window():
    """A step through the window over- and undershoots by no more than its negative lobes."""
    source = np.zeros((40, 80, 3), np.uint16)
    source[:, 40:] = 40000
    line = resample(source, (40, 20))[0, 10] / (40000 / 65535)
    assert -0.12 < line.min() < 0 and 1 < line.max() < 1.12
