"""The camera file: what is written is what a recipe reads."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibrate.photographs import MADE_BY, Photograph, chart_in
from grading.calibrate import light as lights
from grading.calibrate.camera_file import camera_text
from grading.calibrate.chart import reference
from grading.calibrate.light import calibrate, calibrate_frames
from grading.errors import OriginalError
from grading.recipe.cameras import read_camera

SHOT = Photograph(size=(240, 360))


def measured(kelvin=5000.0, path="chart.dng", capture=MADE_BY):
    frame = chart_in(SHOT, 0.1, kelvin, capture, samples=2)
    facts = replace(frame.facts, path=Path(path), sha256="ab" * 32)
    return calibrate(replace(frame, facts=facts), reference())


@pytest.fixture(scope="module")
def by_day():
    return measured()


@pytest.fixture(scope="module")
def by_lamp():
    return measured(2900.0, "lamp.dng")


def read(tmp_path, *lights):
    path = tmp_path / "camera.yaml"
    path.write_text(camera_text(lights, "since-2014", path.name), encoding="utf-8")
    return read_camera(path)


def test_the_numbers_are_those_that_were_measured(tmp_path, by_day):
    camera = read(tmp_path, by_day)
    (light,) = camera.lights
    assert (camera.make, camera.model) == ("Invented", "Camera")
    assert (light.kelvin, light.duv) == (by_day.kelvin, by_day.duv)
    assert np.array(light.matrix) == pytest.approx(by_day.matrix, abs=5e-9)
    assert light.patches == 24
    assert light.before.mean == pytest.approx(by_day.before.errors.mean(), abs=0.005)
    assert light.after.worst == pytest.approx(by_day.after.errors.max(), abs=0.005)
    assert (light.frame.name, light.frame.sha256) == ("chart.dng", "ab" * 32)


def test_two_lights_are_in_order_of_kelvin(tmp_path, by_day, by_lamp):
    camera = read(tmp_path, by_day, by_lamp)
    assert [light.frame.name for light in camera.lights] == ["lamp.dng", "chart.dng"]
    first, second = camera.calibrations
    assert first.kelvin == by_lamp.kelvin < second.kelvin == by_day.kelvin


def test_the_file_says_how_it_is_used(by_day):
    text = camera_text([by_day], "before-2014", "studio.yaml")
    assert "#   white_balance:\n#     cameras: [studio.yaml]\n" in text
    assert "chart of 24 patches (made before November 2014)" in text


@pytest.mark.parametrize(
    "name", ["a: b #.dng", "é 😀.dng", "'quoted\" it.dng", "x" * 120 + " y.dng"]
)
def test_any_name_is_read_back(tmp_path, by_day, name):
    facts = replace(by_day.frame.facts, path=Path(name), capture=replace(MADE_BY, model=name))
    named = replace(by_day, frame=replace(by_day.frame, facts=facts))
    camera = read(tmp_path, named)
    assert (camera.model, camera.lights[0].frame.name) == (name, name)


def frames_refused(monkeypatch, *frames):
    opened = iter(frames)
    monkeypatch.setattr(lights, "open_frame", lambda path: next(opened))
    monkeypatch.setattr(lights, "calibrate", lambda frame, *_: frame)
    with pytest.raises(OriginalError) as caught:
        calibrate_frames([light.frame.facts.path for light in frames], "since-2014")
    return str(caught.value)


def test_frames_of_two_cameras_do_not_go_together(monkeypatch, by_day, by_lamp):
    facts = replace(by_lamp.frame.facts, capture=replace(MADE_BY, model="Other"))
    other = replace(by_lamp, frame=replace(by_lamp.frame, facts=facts))
    assert frames_refused(monkeypatch, by_day, other) == (
        "lamp.dng: made by Invented Other; allowed: Invented Camera, as chart.dng is; calibrate "
        "each camera into a file of its own"
    )


def test_two_frames_in_one_light_do_not_go_together(monkeypatch, by_day):
    words = frames_refused(monkeypatch, by_day, replace(by_day, kelvin=by_day.kelvin + 100))
    assert " mired from that of chart.dng; allowed: 50 mired or more between two lights" in words
