"""Frames at reduced size."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.preview import preview
from grading.engine.resolve import resolve


def render_small(whole, long_edge, look, output):
    return render(preview(whole, long_edge), resolve(look, whole), output)


def test_pixels_are_block_means_of_the_light():
    light = scene(100, 160)
    small = preview(frame(light), 40)
    expected = light.astype(np.float64).reshape(3, 25, 4, 40, 4).mean(axis=(2, 4))
    found = small.pixels.read(small.region)
    assert found == pytest.approx(expected, rel=1e-5, abs=1e-6)
    assert found.dtype == np.float32 and found.flags.c_contiguous


@pytest.mark.parametrize(("long_edge", "size"), [(33, (21, 33)), (32, (11, 17)), (9, (6, 9))])
def test_size_is_the_largest_that_fits_by_halving(long_edge, size):
    small = preview(frame(scene(21, 33)), long_edge)
    assert (small.facts.height, small.facts.width) == size
    assert (small.pixels.height, small.pixels.width) == size


def test_the_rest_of_the_facts_stay():
    whole = frame(scene(64, 64))
    small = preview(whole, 16)
    assert small.facts.path == whole.facts.path
    assert small.facts.decoder == whole.facts.decoder
    assert whole.facts.width == 64


def test_a_frame_of_flat_areas_is_graded_as_at_full_size():
    light = np.kron(scene(6, 8), np.ones((1, 8, 8), np.float32))
    look = recipe(
        exposure={"stops": 0.4},
        split_toning={"shadows": {"hue": 250, "chroma": 0.03}},
        tone_curve={"contrast": 1.3, "shoulder": 0.1},
    )
    output = Output("tiff")
    whole = render(frame(light), look, output).array
    small = render_small(frame(light), 8, look, output).array
    assert np.abs(whole[::8, ::8].astype(int) - small).max() <= 1


def test_a_local_adjustment_keeps_its_place():
    light = np.full((3, 128, 128), 0.18, np.float32)
    gradient = {"full": [0.0, 0.5], "none": [1.0, 0.5]}
    look = recipe(local={"left": {"where": {"gradient": gradient}, "exposure": {"stops": 1}}})
    output = Output("tiff")
    whole = render(frame(light), look, output).array.astype(int)
    small = render_small(frame(light), 32, look, output).array.astype(int)
    between = (whole[:, 1::4] + whole[:, 2::4]) / 2
    assert np.abs(between[::4] - small).max() < 30  # of 65535, across a fade of one stop
