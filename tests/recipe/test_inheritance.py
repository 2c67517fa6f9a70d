"""Recipes that extend others."""

import os

import pytest

from grading.errors import RecipeError
from grading.recipe.inheritance import LONGEST_CHAIN, look_names, looks_folder, merge
from grading.recipe.keys import recipe_root
from grading.recipe.load import load_recipe


@pytest.fixture
def write(tmp_path):
    def write(name, text):
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(f"grading: 1\n{text}")
        return path

    return write


def message(path):
    with pytest.raises(RecipeError) as caught:
        load_recipe(path)
    return str(caught.value).replace(f"{path.parent}/", "")


def test_mappings_merge_key_by_key(write):
    write("base.yaml", "lift: {shadows: 1, highlights: -1}\nexposure: {stops: 2}")
    recipe = load_recipe(write("own.yaml", "extends: base.yaml\nlift: {shadows: 0.5}"))
    assert recipe.stated["lift"] == {"shadows": 0.5, "highlights": -1}
    assert recipe.stages["exposure"].stops == 2


def test_lists_replace(write):
    write("base.yaml", "tone_curve: {points: [[-2, -2.5], [0, 0], [2, 1.8]]}")
    recipe = load_recipe(write("own.yaml", "extends: base.yaml\ntone_curve: {points: [[0, 0.2]]}"))
    assert recipe.stages["tone_curve"].points == [[0, 0.2]]


@pytest.mark.parametrize(
    "reset", ["lift: null", "lift: {shadows: null}", "lift:", "lift: {shadows: ~}"]
)
def test_null_goes_back_to_the_default(write, reset):
    write("base.yaml", "lift: {shadows: 1}")
    recipe = load_recipe(write("own.yaml", f"extends: base.yaml\n{reset}"))
    assert recipe.stages["lift"].shadows == 0
    assert recipe.as_mapping() == {"grading": 1, "title": "own"}


def test_null_without_a_parent_is_the_default(write):
    assert load_recipe(write("own.yaml", "exposure: {stops: null}")).stages["exposure"].stops == 0


def test_named_windows_and_adjustments_change_drop_and_keep_their_order(write):
    write(
        "base.yaml",
        "hues:\n  sky: {centre: 5PB, shift: 5}\n  skin: {centre: 5YR, shift: 2}\n"
        "local:\n"
        "  top: {where: {gradient: {full: [0, 0], none: [0, 1]}}, exposure: {stops: -1}}\n"
        "  side: {where: {gradient: {full: [0, 0], none: [1, 0]}}, exposure: {stops: 1}}\n",
    )
    recipe = load_recipe(
        write(
            "own.yaml",
            "extends: base.yaml\nhues: {skin: null, sky: {shift: 9}}\n"
            "local: {new: {where: {ellipse: {centre: [0, 0], radius: [1, 1]}}},"
            " top: {exposure: {stops: -2}}}",
        )
    )
    assert list(recipe.stages["hues"].root) == ["sky"]
    assert recipe.stages["hues"].root["sky"].shift == 9
    assert list(recipe.local) == ["top", "side", "new"]
    assert recipe.local["top"].stages["exposure"].stops == -2
    assert recipe.local["top"].where.gradient.none == [0, 1]


@pytest.mark.parametrize(
    ("parent", "child", "merged"),
    [
        ({"kelvin": 5000, "duv": 0.01}, {"neutral": [0, 0]}, {"neutral": [0, 0]}),
        ({"kelvin": 5000, "shift": 5}, {"as_shot": True}, {"shift": 5, "as_shot": True}),
        ({"neutral": [0, 0]}, {"kelvin": 4000}, {"kelvin": 4000}),
        ({"kelvin": 5000}, {"duv": 0.01}, {"kelvin": 5000, "duv": 0.01}),
        ({"kelvin": 5000, "duv": 0.01}, {"kelvin": 4000}, {"kelvin": 4000, "duv": 0.01}),
        ({"kelvin": 5000}, {"neutral": None}, {"kelvin": 5000}),
    ],
)
def test_another_way_to_state_white_drops_the_parents(parent, child, merged):
    result = merge(recipe_root(), {"white_balance": parent}, {"white_balance": child})
    assert result == {"white_balance": merged}


def test_another_shape_drops_the_parents_shape(write):
    write(
        "base.yaml",
        "local: {a: {where: {gradient: {full: [0, 0], none: [0, 1]}}, exposure: {stops: 1}}}",
    )
    shape = "{ellipse: {centre: [0, 0], radius: [1, 1]}}"
    own = f"extends: base.yaml\nlocal: {{a: {{where: {{not: {shape}}}}}}}"
    where = load_recipe(write("own.yaml", own)).local["a"].where
    assert where.gradient is None
    assert where.not_.ellipse.radius == [1, 1]


def test_two_ways_in_one_file_are_refused(write):
    path = write("own.yaml", "white_balance: {kelvin: 5000, as_shot: true}")
    assert message(path) == "own.yaml:2:1: white_balance: state only one of as_shot, kelvin"


def test_title_and_description_are_a_files_own(write):
    write("base.yaml", "title: Base\ndescription: The base.")
    recipe = load_recipe(write("own.yaml", "extends: base.yaml"))
    assert (recipe.title, recipe.description) == ("own", "")


def test_an_error_names_the_file_that_states_the_value(write):
    write("deep/base.yaml", "exposure:\n  stops: 99\nlift: {shadows: 1}")
    path = write("own.yaml", "extends: deep/base.yaml\nlift: {shadow: 2}")
    assert message(path).splitlines() == [
        "deep/base.yaml:3:10: exposure.stops = 99: more than 10; allowed: -10 to 10 stops",
        "own.yaml:3:8: lift.shadow: unknown key; allowed: shadows, highlights; "
        "did you mean shadows?",
    ]


def test_paths_are_relative_to_the_file_that_states_them(write):
    write("deep/far.yaml", "exposure: {stops: 1}")
    write("deep/base.yaml", "extends: far.yaml")
    recipe = load_recipe(write("own.yaml", "extends: deep/base.yaml"))
    assert recipe.stages["exposure"].stops == 1


def test_circle(write):
    write("b.yaml", "extends: c.yaml")
    write("c.yaml", "extends: a.yaml")
    path = write("a.yaml", "extends: b.yaml")
    assert message(path) == (
        "c.yaml:2:10: recipes extend each other in a circle: "
        "a.yaml -> b.yaml -> c.yaml -> a.yaml; take extends out of one of them"
    )


def test_longest_chain(write):
    write("0.yaml", "exposure: {stops: 1}")
    for i in range(1, LONGEST_CHAIN + 1):
        path = write(f"{i}.yaml", f"extends: {i - 1}.yaml")
    assert load_recipe(path.with_name(f"{LONGEST_CHAIN - 1}.yaml")).stages["exposure"].stops == 1
    assert message(path).startswith("1.yaml:2:10: recipes extend each other 16 times: 16.yaml ->")


def test_missing_parent(write):
    assert message(write("own.yaml", "extends: nowhere.yaml")) == (
        "own.yaml:2:10: extends = nowhere.yaml: there is no such file; "
        "write a path relative to this file, or the name of a shipped look"
    )


def test_misspelt_look(write):
    text = message(write("own.yaml", "extends: evenlite"))
    assert text.startswith("own.yaml:2:10: there is no look named evenlite; allowed: cinder-walk, ")
    assert text.endswith("; did you mean evenlight?")


def test_extends_must_be_text(write):
    assert message(write("own.yaml", "extends: 3")) == (
        "own.yaml:2:10: extends = 3: not text; allowed: text; put it in quotes"
    )


def test_a_parent_of_another_version_is_refused(write, tmp_path):
    (tmp_path / "base.yaml").write_text("grading: 2")
    assert message(write("own.yaml", "extends: base.yaml")) == (
        "base.yaml:1:10: grading = 2: another version; allowed: 1; "
        "state grading: 1, the version of the recipe format"
    )


def test_digest_covers_the_whole_chain(write):
    base = write("base.yaml", "exposure: {stops: 1}")
    path = write("own.yaml", "extends: base.yaml")
    before = load_recipe(path).digest
    assert before == load_recipe(path).digest
    base.write_text("grading: 1\nexposure: {stops: 2}")
    assert load_recipe(path).digest != before


def test_shipped_looks_are_found_by_name():
    assert "evenlight" in look_names()
    assert load_recipe("evenlight").path == looks_folder() / "evenlight.yaml"


def test_a_name_is_a_file_beside_the_recipe_first(write):
    write("base.yml", "exposure: {stops: 1}")
    write("evenlight.yaml", "exposure: {stops: 2}")
    assert load_recipe(write("own.yaml", "extends: base")).stages["exposure"].stops == 1
    assert load_recipe(write("own.yaml", "extends: evenlight")).stages["exposure"].stops == 2
    write("base.yaml", "exposure: {stops: 3}")
    assert load_recipe(write("own.yaml", "extends: base")).stages["exposure"].stops == 3


def test_a_recipe_may_bear_the_name_of_the_look_that_it_extends(write):
    recipe = load_recipe(write("evenlight.yaml", "extends: evenlight\nlift: {shadows: 3}"))
    assert recipe.stages["exposure"].stops == load_recipe("evenlight").stages["exposure"].stops
    assert recipe.stages["lift"].shadows == 3


def test_on_the_command_line_a_name_is_a_look(write, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write("evenlight.yaml", "exposure: {stops: 2}")
    assert load_recipe("evenlight").path == looks_folder() / "evenlight.yaml"
    write("plain", "exposure: {stops: 2}")
    assert load_recipe("plain").stages["exposure"].stops == 2


@pytest.mark.parametrize(
    ("stated", "meant"),
    [
        ("sunset", "sunset-2 beside this file"),
        ("evenlite", "evenlight or evenlit beside this file"),
        ("./sunset.yaml", "sunset-2.yml there"),
    ],
)
def test_files_of_a_close_name_are_suggested(write, stated, meant):
    write("sunset-2.yml", "")
    write("evenlit.yaml", "")
    text = message(write("own.yaml", f"extends: {stated}"))
    assert text.startswith("own.yaml:2:10: ")
    assert text.endswith(f"; did you mean {meant}?")


def test_the_command_line_suggests_a_file_of_that_name(write, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write("sunset.yaml", "")
    with pytest.raises(RecipeError, match=r"named sunset; .*; did you mean the file sunset.yaml\?"):
        load_recipe("sunset")


@pytest.mark.parametrize("name", ['"a\\0b"', '"a\\0b.yaml"', "a" * 256, "a" * 300 + ".yaml", "''"])
@pytest.mark.parametrize(("key", "column"), [("extends: %s", 10), ("cdl: {file: %s}", 13)])
def test_a_name_that_no_file_can_have(write, name, key, column):
    text = message(write("own.yaml", key % name))
    assert text.startswith(f"own.yaml:2:{column}: ")
    assert "\0" not in text
    assert len(text) < 400


def test_a_pipe_is_not_waited_for(write, tmp_path):
    os.mkfifo(tmp_path / "pipe.yaml")
    for key in ("extends: pipe.yaml", "extends: pipe", "cdl: {file: pipe.yaml}"):
        assert message(write("own.yaml", key)).startswith("own.yaml:2:")
    with pytest.raises(RecipeError, match="pipe.yaml: cannot be read"):
        load_recipe(tmp_path / "pipe.yaml")


def test_recipes_that_are_too_much_together(write):
    for name, extends in (("a", ""), ("b", "extends: a")):
        path = write(f"{name}.yaml", f"{extends}\nhues: {{? {name * 530_000} : {{centre: 3}}}}")
    assert message(path).startswith("b.yaml: too large, with all that it extends; allowed: 50000 v")
