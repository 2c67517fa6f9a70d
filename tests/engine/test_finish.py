"""Deliveries: several of one grade, and none clipped or rounded on the way to its size."""

import numpy as np
import pytest
from PIL import Image

from frames_in_memory import frame, recipe, scene
from grading.colour import transfer
from grading.engine import execute
from grading.engine.execute import render, render_outputs
from grading.engine.output import Output

LOOK = {"exposure": {"stops": 0.6}, "tone_curve": {"contrast": 1.3, "shoulder": 0.2}}
OUTPUTS = [
    Output(), Output(long_edge=60), Output("tiff", long_edge=61), Output("tiff", "bt2020"),
    Output(space="display-p3", long_edge=33),
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
