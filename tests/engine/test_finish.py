"""Deliveries: several of one grade, and none clipped or rounded on the way to its size."""

import io
from functools import cache

import numpy as np
import pytest
from PIL import Image

from frames_in_memory import frame, recipe, scene
from grading import kernels
from grading.colour import oklab, transfer
from grading.engine import execute, sampling
from grading.engine.execute import render, render_outputs
from grading.engine.output import Output
from grading.files.formats.registry import FORMATS
from grading.shoot.deliver import encode
from slanted_edge import edge, half_response, overshoot, response_at

LOOK = {"exposure": {"stops": 0.6}, "tone_curve": {"contrast": 1.3, "shoulder": 0.2}}
OUTPUTS = [
    Output(), Output(long_edge=60), Output("tiff", long_edge=61), Output("tiff", "bt2020"),
    Output(space="display-p3", long_edge=33), Output("tiff8", "oprgb", box=(50, 50)),
    Output("png16", "grey"), Output("jpeg", "grey", short_edge=20),
]  # fmt: skip


def test_several_deliveries_of_one_grade_are_what_they_are_alone(monkeypatch):
    original, read = frame(scene(70, 90)), []
    pixels = original.pixels.read
    original.pixels.read = lambda region: read.append(region) or pixels(region)
    monkeypatch.setattr(execute, "TILE", (32, 64))
    made = render_outputs(original, recipe(**LOOK), OUTPUTS)
    assert len(read) == 6  # each tile once
    for picture, output in zip(made, OUTPUTS, strict=True):
        alone = render(original, recipe(**LOOK), output)
        np.testing.assert_array_equal(picture.array, alone.array)
        assert picture.clipping == alone.clipping and picture.output == output


def test_no_codes_are_made_on_the_way_to_a_size():
    """Deep shadows keep what steps of a 16-bit code would have taken; held against Pillow."""
    light = np.random.default_rng(5).uniform(0, 2e-5, (96, 128)).astype(np.float32)
    planes = frame(np.repeat(light[None], 3, axis=0))
    found = render(planes, recipe(), Output("tiff", "srgb", long_edge=16)).array[..., 1]
    other = Image.fromarray(light, mode="F").resize((16, 12), Image.Resampling.LANCZOS)
    exact = 65535 * transfer.encode("srgb", np.asarray(other))
    assert 2 < exact.min() and exact.max() < 20
    assert np.abs(found - exact).max() < 0.6


@pytest.mark.parametrize("workers", [1, 3])
def test_the_parts_of_a_resized_delivery_do_not_show(workers, monkeypatch):
    original, output = frame(scene(70, 90)), Output(long_edge=77)
    whole = render(original, recipe(**LOOK), output)
    monkeypatch.setattr(execute, "TILE", (11, 17))
    parts = render(original, recipe(**LOOK), output, workers)
    np.testing.assert_array_equal(parts.array, whole.array)
    assert parts.clipping == whole.clipping


@pytest.mark.parametrize("edge", [None, 60])
def test_grey_is_the_lightness_of_the_colours(edge):
    """One channel: the picture without its chroma, as sRGB would show it."""
    original = frame(scene(70, 90))
    made = render(original, recipe(**LOOK), Output("png16", "grey", long_edge=edge))
    colours = render(original, recipe(**LOOK), Output("tiff", "bt2020", long_edge=edge)).array
    linear = transfer.decode("bt2020", colours / 65535) @ oklab.WORKING_TO_LMS.T
    lightness = np.cbrt(linear) @ oklab.LMS_TO_OKLAB[0]
    assert made.array.shape == colours.shape[:2]
    if edge is None:  # else light is averaged, and lightness is not
        exact = 65535 * transfer.encode("srgb", np.clip(lightness**3, 0, 1))
        assert np.abs(made.array - exact).max() < 12
    assert np.ptp(made.array) > 10_000
    assert list(made.clipping["black"]) == list(made.clipping["white"]) == ["grey"]
    assert made.clipping["outside"] == 0
    share = (made.array == 65535).mean()
    assert made.clipping["white"]["grey"] == share


def test_grey_of_a_single_pixel_is_a_file_in_every_format():
    """A view of one pixel counts as contiguous whatever its strides, which encoders refuse."""
    for name, record in FORMATS.items():
        for side in (1, 3):
            made = render(frame(scene(side, 1)), recipe(), Output(name, "grey"))
            file = encode(made, None)
            assert record.read_header(io.BytesIO(file))[:2] == (1, side)


def test_black_is_black_on_every_curve():
    """A pure power, as that of opRGB, is steep at black: 1e-9 would be code 5 of 16 bits."""
    dark = np.zeros((3, 20, 30), np.float32)
    dark[:, 10:] = 1e-11
    for space in ("srgb", "bt2020", "oprgb", "grey"):
        assert render(frame(dark), recipe(), Output("tiff", space)).array[:10].max() == 0


def test_codes_of_ten_bits_reach_their_end():
    light = np.linspace(0, 1.5, 96, dtype=np.float32)
    ramp = np.broadcast_to(light, (3, 16, 96)).copy()
    codes = np.zeros((16, 96, 3), np.uint16)
    curve = transfer.coefficients("srgb")
    ends = kernels.output.encode(ramp, curve, codes, 0, 0, False, 1023)
    exact = np.round(1023 * transfer.encode("srgb", np.clip(light, 0, 1)))
    assert np.abs(codes[0, :, 0] - exact).max() <= 1 and codes.max() == 1023
    assert ends[1].tolist() == [int((codes[..., c] == 1023).sum()) for c in range(3)]


@cache
def edge_frame(low=0.1, high=0.4):
    return frame(np.broadcast_to(edge(0.8, low, high, size=900), (3, 900, 900)))


def linear(picture):
    return transfer.decode("srgb", picture.array[..., 1] / 65535)


@pytest.mark.parametrize("long_edge", [2048, 1080])
def test_a_smaller_picture_is_as_sharp_as_it_may_be(long_edge):
    """Of 6000 pixels: a detail of it, by ISO 12233; the overshoot of the resampling is 4 to 6 %."""
    size = round(900 * long_edge / 6000)
    plain, sharp = (
        linear(render(edge_frame(), recipe(), Output("tiff", long_edge=size, **keys)))
        for keys in ({"sharpen": 0.0}, {})
    )
    assert half_response(sharp) > 1.03 * half_response(plain)
    assert 0.95 < response_at(sharp, 0.25) <= 1.05
    assert max(overshoot(sharp)) < max(overshoot(plain)) + 0.03
    most = linear(render(edge_frame(), recipe(), Output("tiff", long_edge=size, sharpen=1.0)))
    assert max(overshoot(most)) < max(overshoot(plain)) + 0.08


def test_full_size_is_sharpened_only_if_asked_for():
    plain, asked = (
        render(edge_frame(), recipe(), output)
        for output in (Output("tiff"), Output("tiff", sharpen=0.5))
    )
    assert half_response(linear(asked)) > 1.05 * half_response(linear(plain))
    larger = render(edge_frame(), recipe(), Output("tiff", long_edge=4000))
    np.testing.assert_array_equal(larger.array, plain.array)


def test_sharpening_passes_neither_white_nor_what_is_black():
    made = [
        render(edge_frame(0.0, 1.0), recipe(), Output("tiff", long_edge=300, sharpen=amount))
        for amount in (0.0, 1.0)
    ]
    for end in ("black", "white"):
        shares = [picture.clipping[end]["green"] for picture in made]
        assert shares[1] < shares[0] + 0.01


@pytest.mark.parametrize("output", [Output(long_edge=77, sharpen=1.0), Output(sharpen=1.0)])
def test_strips_and_tiles_do_not_show_in_what_is_sharpened(output, monkeypatch):
    original = frame(scene(70, 90))
    whole = render(original, recipe(**LOOK), output, 1)
    monkeypatch.setattr(execute, "TILE", (11, 17))
    monkeypatch.setattr(sampling, "STRIP", 5)
    parts = render(original, recipe(**LOOK), output, 3)
    np.testing.assert_array_equal(parts.array, whole.array)
    assert parts.clipping == whole.clipping


@pytest.mark.parametrize("size", [{"long_edge": 150}, {}])
def test_what_is_turned_is_sharpened_as_a_whole(size, monkeypatch):
    """Piece by piece as in one piece."""
    original = frame(scene(190, 260))
    look = recipe(**LOOK, framing={"straighten": 3.0})
    output = Output(**size, sharpen=1.0)
    monkeypatch.setattr(sampling, "PIECE", (1000, 1000))
    whole = render(original, look, output).array
    plain = render(original, look, Output(**size, sharpen=0)).array
    monkeypatch.setattr(sampling, "PIECE", (32, 64))
    np.testing.assert_array_equal(render(original, look, output).array, whole)
    assert (whole != plain).mean() > 0.3
