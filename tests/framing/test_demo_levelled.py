"""The demo set, shot from a boat: the notes of its shoot file make its walls upright."""

from pathlib import Path

import numpy as np
import pytest

from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.resolve import resolve
from grading.files.originals import open_frame
from grading.recipe.load import recipe_from_mapping
from grading.yaml_text import load_yaml, read_text

DEMO = Path(__file__).parents[2] / "demo_images"
ROLLS = {
    truth["file"].removesuffix(".dng"): truth["roll_degrees"]
    for truth in load_yaml(read_text(DEMO / "harbour_truth.yaml"), "truth")[0]
}
NOTES = {
    name: note["framing"]["straighten"]
    for name, note in load_yaml(read_text(DEMO / "evening.yaml"), "shoot")[0]["frames"].items()
    if "framing" in note
}


def lean_of_walls(codes):
    """Degrees by which upright edges of the town lean: the slant along which their slopes, summed,
    are the most uneven."""
    rows, columns = codes.shape[:2]
    town = codes[rows // 8 : rows * 2 // 5, columns // 50 : columns // 2, 1].astype(float)
    slopes = np.diff(town, axis=1)
    y, x = np.arange(len(slopes))[:, None], np.arange(slopes.shape[1])

    def unevenness(degrees):
        place = x + np.tan(np.radians(degrees)) * (y - len(slopes) / 2)
        along = [np.interp(p, x, row) for p, row in zip(place, slopes, strict=True)]
        return np.mean(along, axis=0).std()

    degrees = np.arange(-5, 5.01, 0.1)
    return degrees[np.argmax([unevenness(each) for each in degrees])]


def test_every_frame_that_is_rendered_is_straightened_by_its_roll():
    assert {name: ROLLS[name] for name in NOTES} == NOTES
    assert len(NOTES) == len(ROLLS) - 1  # one is shaken, and left out


@pytest.mark.parametrize("name", ["harbour_02", "harbour_04", "harbour_07"])
def test_walls_become_upright(name):
    frame = open_frame(DEMO / f"{name}.dng")
    plain = {"grading": 1, "exposure": {"stops": 1.0}}
    before = lean_of_walls(render(frame, recipe_from_mapping(plain, name), Output()).array)
    framing = {"straighten": NOTES[name]}
    look = resolve(recipe_from_mapping(plain | {"framing": framing}, name), frame)
    assert abs(before) == pytest.approx(abs(ROLLS[name]), abs=0.5)
    assert abs(lean_of_walls(render(frame, look, Output()).array)) < 0.5
