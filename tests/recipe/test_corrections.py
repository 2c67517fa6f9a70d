"""Colour decisions named by a recipe: found from the recipe's folder, kept as numbers."""

import pytest

from grading.cdl_text import Decision, write_decision
from grading.errors import RecipeError
from grading.recipe.load import load_recipe, recipe_from_mapping

DUSK = Decision((1.2, 1.0, 0.9), (0.0, -0.02, 0.01), (1.0, 1.1, 0.95), 0.8)
NUMBERS = {
    "slope": [1.2, 1.0, 0.9],
    "offset": [0.0, -0.02, 0.01],
    "power": [1.0, 1.1, 0.95],
    "saturation": 0.8,
}


@pytest.fixture
def folder(tmp_path):
    """A recipe in a folder of its own, beside its decision, and room for one that extends it."""
    inner = tmp_path / "inner"
    inner.mkdir()
    (inner / "dusk.cc").write_text(write_decision(DUSK, "dusk", [], "codes"))
    (inner / "base.yaml").write_text("grading: 1\ncdl: {file: dusk.cc}\n")
    return tmp_path


def extend(folder, text):
    path = folder / "look.yaml"
    path.write_text(f"grading: 1\nextends: inner/base.yaml\n{text}\n")
    return path


def test_the_numbers_stand_in_the_recipe(folder):
    recipe = load_recipe(folder / "inner" / "base.yaml")
    assert recipe.as_mapping()["cdl"] == NUMBERS
    assert recipe.stated["cdl"] == {"file": "dusk.cc"}


def test_the_mapping_needs_no_file_any_more(folder):
    recipe = load_recipe(folder / "inner" / "base.yaml")
    (folder / "inner" / "dusk.cc").unlink()
    again = recipe_from_mapping(recipe.as_mapping(), "a.jpg.yaml")
    assert again.stages["cdl"] == recipe.stages["cdl"]


def test_the_path_is_relative_to_the_recipe_that_states_it(folder):
    recipe = load_recipe(extend(folder, "exposure: {stops: 1}"))
    assert recipe.as_mapping()["cdl"] == NUMBERS


def test_numbers_of_its_own_replace_an_inherited_file(folder):
    recipe = load_recipe(extend(folder, "cdl: {saturation: 1.5}"))
    assert recipe.as_mapping()["cdl"] == {"saturation": 1.5}


def test_the_digest_reports_a_change_in_the_file(folder):
    path = folder / "inner" / "base.yaml"
    before = load_recipe(path).digest
    assert load_recipe(path).digest == before
    (folder / "inner" / "dusk.cc").write_text(write_decision(Decision(), "dusk", [], "codes"))
    assert load_recipe(path).digest != before


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "cdl: {file: dawn.cc}",
            "look.yaml:3:13: cdl.file = dawn.cc: there is no such file; "
            "write a path relative to this recipe",
        ),
        (
            "cdl: {file: inner/dusk.cc, slope: [1, 1, 1]}",
            "look.yaml:3:1: cdl: state only one of file, slope",
        ),
        (
            "cdl: {file: inner/dusk.cc, id: dawn}",
            "inner/dusk.cc: there is no ColorCorrection with id dawn; allowed: dusk; "
            "state the id of one of these",
        ),
        (
            "cdl: {file: /etc/passwd}",
            "/etc/passwd:1:17: this is not ASC CDL XML (not well-formed (invalid token)); "
            "name a .cc, .ccc or .cdl file, or export it again",
        ),
        (
            "cdl: {slope: [1, 2]}",
            "look.yaml:3:14: cdl.slope = [1, 2]: a list of 2; "
            "allowed: three numbers [r, g, b], each 0 to 100",
        ),
    ],
)
def test_what_is_said_of_a_bad_statement(folder, text, expected):
    with pytest.raises(RecipeError) as caught:
        load_recipe(extend(folder, text))
    assert str(caught.value).replace(f"{folder}/", "") == expected


def test_a_number_beyond_the_stage_is_reported_with_the_file(folder):
    path = folder / "inner" / "dusk.cc"
    path.write_text(write_decision(Decision(slope=(1.0, 1000.0, 1.0)), "dusk", [], "codes"))
    with pytest.raises(RecipeError) as caught:
        load_recipe(folder / "inner" / "base.yaml")
    assert str(caught.value) == f"{path}: cdl.slope[1] = 1000: more than 100; allowed: 0 to 100"
