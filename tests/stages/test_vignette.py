"""Vignette: how the frame falls off to its corners."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, signal
from grading.engine import execute
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.region import Region
from grading.stages.vignette import STAGE, Vignette, finished_frame

EXAMPLE = {"stops": -1.2, "centre": [0.4, 0.55], "start": 0.1, "ratio": 1.3, "power": 3.0}
ALONE = [{"stops": -0.8}, {"stops": 0.5}]


def stops(width, height, **keys):
    """Stops of light that each pixel is given."""
    constants = STAGE.prepare(Vignette(**keys), signal(width, height))
    even = np.ones((3, height, width), np.float32)
    factor = STAGE.apply(even, constants, Region.whole(height, width))[0]
    return 3 * np.log2(factor.astype(np.float64))


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(Vignette(), signal(9, 9)) is None
    assert STAGE.prepare(Vignette(start=0.5, power=4.0), signal(9, 9)) is None


@pytest.mark.parametrize("size", [(300, 200), (200, 300), (256, 256)])
@pytest.mark.parametrize("power", [2.0, 4.0, 8.0])
def test_all_corners_get_what_is_stated_and_the_middle_nothing(size, power):
    plane = stops(*size, stops=-2.0, power=power)
    np.testing.assert_allclose(plane[[0, 0, -1, -1], [0, -1, 0, -1]], -2, atol=0.01)
    assert abs(plane[size[1] // 2, size[0] // 2]) < 1e-6
    assert (np.diff(plane[size[1] // 2, size[0] // 2 :]) <= 1e-6).all()


def test_it_agrees_with_its_formula():
    """In double precision, from the middle out to the corner that lies farthest."""
    width, height = 61, 43
    plane = stops(width, height, **EXAMPLE)
    y, x = np.mgrid[0:height, 0:width] + 0.5
    u, v = np.abs(x - 0.4 * width) / 1.3, np.abs(y - 0.55 * height)
    farthest = ((0.6 * width / 1.3) ** 3 + (0.55 * height) ** 3) ** (1 / 3)
    t = np.clip(((u**3 + v**3) ** (1 / 3) / farthest - 0.1) / 0.9, 0, 1)
    np.testing.assert_allclose(plane, -1.2 * t * t * (3 - 2 * t), atol=1e-5)


def test_up_to_its_start_nothing_happens():
    plane = stops(200, 200, stops=-3.0, start=0.6)
    y, x = np.mgrid[0:200, 0:200] + 0.5
    inside = np.hypot(x - 100, y - 100) < 0.59 * np.hypot(100, 100)
    assert np.abs(plane[inside]).max() < 1e-6 and plane.min() < -2.9


def test_a_ratio_of_one_makes_circles():
    plane = stops(300, 150, stops=-2.0, ratio=1.0, start=0.0)
    assert plane[75, 150 + 60] == pytest.approx(plane[75 + 60, 150], abs=0.02)
    oval = stops(300, 150, stops=-2.0, start=0.0)
    assert oval[75, 150 + 100] == pytest.approx(oval[75 + 50, 150], abs=0.02)


def test_without_a_vignette_nothing_is_different():
    light = np.full((3, 40, 60), 0.18)
    with_it, without = (
        render(frame(light), recipe(**keys), Output("tiff")).array
        for keys in ({"vignette": {"stops": -1.0, "start": 0.9}}, {})
    )
    np.testing.assert_array_equal(with_it[10:30, 15:45], without[10:30, 15:45])
    assert (with_it[0, 0] < without[0, 0]).all()


def test_it_is_a_change_of_light_and_of_nothing_else():
    """A stop less at the corner is half of the light in each channel."""
    light = np.broadcast_to(np.array([0.2, 0.1, 0.05])[:, None, None], (3, 80, 80))
    kept, darker = (
        render(frame(light), recipe(vignette={"stops": by}), Output("tiff", "bt2020")).array
        for by in (0.0, -1.0)
    )
    halved = render(frame(light / 2), recipe(), Output("tiff", "bt2020")).array
    np.testing.assert_allclose(darker[0, 0] / 65535, halved[0, 0] / 65535, atol=4e-3)
    np.testing.assert_array_equal(darker[40, 40], kept[40, 40])


def test_a_preview_falls_off_as_the_frame_does():
    original = frame(np.full((3, 256, 384), 0.18))
    look = resolve(recipe(vignette=EXAMPLE), original)
    small = render(preview(original, 96), look, Output("tiff")).array.astype(float)
    large = render(original, look, Output("tiff")).array.astype(float)
    means = large.reshape(64, 4, 96, 4, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(small / 65535, means / 65535, atol=1e-3)


def test_eight_bits_show_no_bands():
    """Dithered, the mean of a few columns follows the fall as that of sixteen bits does."""
    original = frame(np.full((3, 300, 600), 0.02))
    look = recipe(vignette={"stops": -0.4, "start": 0.0})
    fine, coarse = (
        render(original, look, Output(kind)).array[..., 1].astype(float) / top
        for kind, top in (("tiff", 65535), ("tiff8", 255))
    )
    blocks = (a.reshape(10, 30, 20, 30).mean(axis=(1, 3)) for a in (fine, coarse))
    assert np.abs(np.subtract(*blocks)).max() < 0.15 / 255


def test_tiles_do_not_show(monkeypatch):
    original, look = frame(np.full((3, 70, 90), 0.3)), recipe(vignette=EXAMPLE)
    whole = render(original, look, Output("tiff"), workers=1).array
    monkeypatch.setattr(execute, "TILE", (7, 33))
    np.testing.assert_array_equal(render(original, look, Output("tiff"), workers=2).array, whole)


def test_the_finished_frame_is_the_whole_frame():
    corner, sides = finished_frame(signal(30, 20))
    np.testing.assert_array_equal(corner, 0)
    np.testing.assert_array_equal(sides, np.diag([30, 20]))


@pytest.mark.parametrize("angle", [0.0, 7.0])
def test_it_follows_a_turn_and_a_crop(angle):
    """The picture falls off as one does that was shot so."""
    grey = np.full((3, 240, 320), 0.18)
    framing = {"straighten": angle, "crop": {"left": 0.3, "top": 0.2, "right": 0.8, "bottom": 0.7}}
    vignette = {"stops": -2.0, "power": 3.0, "centre": [0.4, 0.5]}
    cut = render(
        frame(grey), recipe(vignette=vignette, framing=framing), Output("tiff")
    ).array.astype(float)
    rows, columns = cut.shape[:2]
    shot = render(frame(grey[:, :rows, :columns]), recipe(vignette=vignette), Output("tiff")).array
    np.testing.assert_allclose(cut, shot, atol=0.004 * 65535)
