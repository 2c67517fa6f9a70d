"""Camera files named by a recipe: found from the recipe's folder, kept as numbers, checked."""

import pytest

from grading.errors import RecipeError
from grading.recipe.differences import differences
from grading.recipe.load import load_recipe, recipe_from_mapping

CAMERA = """\
# as `grading calibrate` writes it
camera: 1
make: Invented
model: Camera
lights:
  - kelvin: 5000.0
    duv: 0.00321
    matrix:
      - [0.75, -0.2, -0.07]
      - [-0.42, 1.25, 0.16]
      - [-0.04, 0.17, 0.6]
    patches: 24
    before: {mean: 3.9, worst: 8.1}
    after: {mean: 1.2, worst: 3.4}
    frame:
      name: chart.dng
      sha256: abc
"""


@pytest.fixture
def folder(tmp_path):
    """A recipe in a folder of its own, beside its cameras, and room for one that extends it."""
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "one.yaml").write_text(CAMERA)
    (inner / "two.yaml").write_text(CAMERA.replace("model: Camera", "model: Other"))
    (inner / "base.yaml").write_text("grading: 1\nwhite_balance: {cameras: [one.yaml]}\n")
    return tmp_path


def extend(folder, text):
    path = folder / "look.yaml"
    path.write_text(f"grading: 1\nextends: inner/base.yaml\n{text}\n")
    return path


def models(recipe):
    return [camera.model for camera in recipe.stages["white_balance"].calibrations or ()]


def test_the_numbers_stand_in_the_recipe(folder):
    recipe = load_recipe(folder / "inner" / "base.yaml")
    assert recipe.stages["white_balance"].cameras is None
    (camera,) = recipe.as_mapping()["white_balance"]["calibrations"]
    assert camera["lights"][0]["matrix"][1] == [-0.42, 1.25, 0.16]
    assert recipe.stated["white_balance"] == {"cameras": ["one.yaml"]}


def test_the_mapping_needs_no_file_any_more(folder):
    recipe = load_recipe(folder / "inner" / "base.yaml")
    (folder / "inner" / "one.yaml").unlink()
    again = recipe_from_mapping(recipe.as_mapping(), "a.jpg.yaml")
    assert again.stages["white_balance"] == recipe.stages["white_balance"]


def test_the_path_is_relative_to_the_recipe_that_states_it(folder):
    assert models(load_recipe(extend(folder, "white_balance: {shift: 10}"))) == ["Camera"]
    path = extend(folder, "white_balance: {cameras: [inner/two.yaml, inner/one.yaml]}")
    assert models(load_recipe(path)) == ["Other", "Camera"]


def test_a_recipe_takes_inherited_cameras_back(folder):
    assert models(load_recipe(extend(folder, "white_balance: {cameras: null}"))) == []


def test_the_digest_reports_a_change_in_the_file(folder):
    path = folder / "inner" / "base.yaml"
    before = load_recipe(path).digest
    assert load_recipe(path).digest == before
    (folder / "inner" / "one.yaml").write_text(CAMERA.replace("1.25", "1.26"))
    assert load_recipe(path).digest != before


def test_a_difference_in_cameras_is_one_difference(folder):
    first = load_recipe(folder / "inner" / "base.yaml")
    second = load_recipe(extend(folder, "white_balance: {cameras: null}"))
    (found,) = differences(first, second)
    assert found.name == "white_balance"
    assert found.lines[0].endswith("-> none")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "white_balance: {cameras: [one.yaml]}",
            "look.yaml:3:27: white_balance.cameras = one.yaml: there is no such file; write a path "
            "relative to this recipe; `grading calibrate` makes such files",
        ),
        (
            "white_balance: {cameras: [inner/one.yaml, ./inner/one.yaml]}",
            "look.yaml:3:43: white_balance.cameras: ./inner/one.yaml is a second file of Invented "
            "Camera; allowed: one file a camera; take one of them out",
        ),
        (
            "white_balance: {cameras: inner/one.yaml}",
            "look.yaml:3:26: white_balance.cameras = inner/one.yaml: not a list; allowed: a list "
            "of names",
        ),
        (
            "white_balance: {cameras: [inner/base.yaml]}",
            "inner/base.yaml:1:1: this is not a camera file; allowed: camera: 1, then make, model "
            "and lights; make the file with `grading calibrate`",
        ),
    ],
)
def test_what_a_recipe_names_must_be_there(folder, monkeypatch, text, message):
    monkeypatch.chdir(folder)
    extend(folder, text)
    with pytest.raises(RecipeError) as caught:
        load_recipe("look.yaml")
    assert str(caught.value) == message


DEFECTS = [
    ("camera: 1", "camera: 2", "2:9: camera = 2; allowed: camera: 1, then make, model and lights; "
     "make the file with `grading calibrate`"),
    ("kelvin: 5000.0", "kelvin: 5", "6:13: lights[0].kelvin = 5: less than 1000; "
     "allowed: 1000 to 100000 kelvin"),
    ("duv: 0.00321", "duv: x", "7:10: lights[0].duv = x: not a number; allowed: -0.05 to 0.05 Duv"),
    ("    patches: 24\n", "", "6:5: lights[0].patches is missing; allowed: 1 to 1000; state it"),
    ("make: Invented", "maker: Invented", "3:1: maker: unknown key; allowed: make, model, lights, "
     "camera; did you mean make?"),
    ("[0.75, -0.2, -0.07]", "[0.75, -0.2]", "9:9: lights[0].matrix[0] = [0.75, -0.2]: a list of 2; "
     "allowed: three numbers [r, g, b], each -100 to 100"),
    ("[0.75, -0.2, -0.07]", "[-0.42, 1.25, 0.16]", "6:5: lights[0]: the matrix cannot be inverted, "
     "or sees no white in its own light; calibrate again"),
    ("mean: 3.9, ", "", "13:5: lights[0].before.mean is missing; allowed: 0 to 200 CIEDE2000; "
     "state it"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), DEFECTS)
def test_a_defect_is_reported_with_its_place_in_the_camera_file(
    folder, monkeypatch, old, new, message
):
    monkeypatch.chdir(folder / "inner")
    (folder / "inner" / "one.yaml").write_text(CAMERA.replace(old, new))
    with pytest.raises(RecipeError) as caught:
        load_recipe("base.yaml")
    assert f"one.yaml:{message}" in str(caught.value).split("\n")


def test_two_lights_must_be_apart(folder, monkeypatch):
    monkeypatch.chdir(folder / "inner")
    light = CAMERA[CAMERA.index("  - kelvin") :]
    path = folder / "inner" / "one.yaml"
    path.write_text(CAMERA + light.replace("5000", "5100"))
    with pytest.raises(RecipeError) as caught:
        load_recipe("base.yaml")
    assert "one.yaml:6:3: lights: two lights only 4 mired apart" in str(caught.value)
    path.write_text(CAMERA + light.replace("5000", "3000"))
    assert len(load_recipe("base.yaml").stages["white_balance"].calibrations[0].lights) == 2
