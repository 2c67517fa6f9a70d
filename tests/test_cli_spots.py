"""`grading spots`: from frames of a card, some turned, to a recipe that mends their dust."""

from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner

import dng
from dusty_frames import DUST, sky_with
from files.charts import MATRIX_A
from grading.cli import main
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve, warnings
from grading.files.metadata.label import Label
from grading.files.originals import open_frame
from grading.frame import Capture
from grading.inspect.dust import Dust
from grading.recipe.load import load_recipe
from grading.shoot.deliver import stated_capture
from grading.shoot.dust import dust_text
from grading.stages.spots import Spots
from grading.yaml_text import load_yaml

WHITE = 16000


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    """Eight frames of one sensor, held in four ways."""
    folder = tmp_path_factory.mktemp("card")
    for i, orientation in enumerate((1, 6, 8, 3, 1, 6, 1, 8)):
        light = np.clip(sky_with(700 + i) * np.reshape([0.5, 1, 0.6], (3, 1, 1)), 0, 0.98)
        codes = dng.mosaic_of(np.moveaxis(light, 0, -1)) * WHITE
        dng.write_dng(folder / f"{i}.dng", np.round(codes).astype(np.uint16), white=WHITE,
                      color_matrix1=MATRIX_A, illuminant1="A", as_shot_neutral=(0.5, 1.0, 0.6),
                      orientation=orientation)  # fmt: skip
    return folder


def run(*arguments):
    return CliRunner().invoke(main, [*map(str, arguments)])


def test_what_it_writes_mends_turned_frames_too(card, tmp_path):
    out = tmp_path / "spots.yaml"
    result = run("spots", card, "--out", out)
    assert result.exit_code == 0, result.output
    assert f"{len(DUST)} spots, found in " in result.output
    look = load_recipe(out)
    assert len(look.parts["spots"].dust) == len(DUST)
    for name in ("0.dng", "1.dng", "2.dng", "3.dng"):
        frame = open_frame(card / name)
        plan = make_plan(resolve(look, frame), frame)
        assert len(plan.pixels.patches) >= 1
        width, height = frame.facts.width, frame.facts.height
        for place, _ in plan.pixels.patches:
            light = frame.pixels.read(place)[1]
            middle = light[light.shape[0] // 2 - 1 :, light.shape[1] // 2 - 1 :][:3, :3].mean()
            mended = plan.pixels.read(place)[1]
            again = mended[mended.shape[0] // 2 - 1 :, mended.shape[1] // 2 - 1 :][:3, :3].mean()
            assert again > 1.04 * middle
        assert (width > height) == (frame.facts.orientation < 5)


def test_its_list_is_that_of_its_camera_alone(card, tmp_path):
    out, other = tmp_path / "spots.yaml", tmp_path / "other.dng"
    assert run("spots", card, "--out", out).exit_code == 0
    assert "\n  camera: Invented Camera\n" in out.read_text()
    other.write_bytes((card / "0.dng").read_bytes().replace(b"Camera\0", b"Second\0"))
    look, frame = load_recipe(out), open_frame(other)
    assert resolve(look, frame).parts["spots"].places == []
    (said,) = (line for line in warnings(look, frame) if "no dust" in line)
    assert said == "no dust is mended here, for the list is that of Invented Camera"


def test_a_serial_number_tells_bodies_apart_and_goes_nowhere_else():
    spots = Spots(camera="Invented One", serial="7")
    one = Capture(model="Invented One", serial="7")
    assert spots.is_of(one) and not spots.is_of(replace(one, serial="8"))
    text = dust_text([Dust(0.5, 0.5, 0.01, 4, 0.2)], "Invented One", "007", 5, "spots.yaml")
    stated = load_yaml(text, "spots.yaml")[0]
    assert stated["spots"]["serial"] == "007" and "007" not in stated["title"]
    assert "serial" not in stated_capture(one, Label())


def test_it_overwrites_nothing_unasked(card, tmp_path):
    out = tmp_path / "spots.yaml"
    out.write_text("mine")
    assert run("spots", card, "--out", out).exit_code == 2
    assert out.read_text() == "mine"


def test_frames_of_another_camera_are_errors(card, tmp_path):
    other = tmp_path / "other.dng"
    grey = np.full((64, 96), 4000, np.uint16)
    grey[:32] = 3000
    dng.write_dng(other, grey, white=WHITE, color_matrix1=MATRIX_A, illuminant1="A",
                  as_shot_neutral=(0.5, 1.0, 0.6), model="Other")  # fmt: skip
    result = run("spots", card, other, "--out", tmp_path / "spots.yaml")
    assert result.exit_code == 1
    assert "a frame of Invented Other" in result.output and "spots, found" in result.output
