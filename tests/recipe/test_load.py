"""Recipes from files and mappings, and what is said of bad ones."""

from dataclasses import replace

import jsonschema
import pytest
from hypothesis import given, settings

from grading.errors import RecipeError
from grading.recipe.describe import schema
from grading.recipe.load import load_recipe, recipe_from_mapping
from grading.recipe.model import RecipeModel
from grading.stages.registry import LOCAL_STAGES, STAGES
from grading.yaml_text import dump_yaml, load_yaml
from legal_parameters import legal


def messages(tmp_path, text):
    path = tmp_path / "look.yaml"
    path.write_text(text)
    with pytest.raises(RecipeError) as caught:
        load_recipe(path)
    return str(caught.value).replace(f"{tmp_path}/", "").splitlines()


def test_all_stages_are_present_in_order(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text("grading: 1\n")
    recipe = load_recipe(path)
    assert list(recipe.stages) == [stage.name for stage in STAGES]
    assert all(recipe.stages[stage.name] == stage.parameters() for stage in STAGES)
    assert recipe.title == "look"
    assert recipe.local == {}


def test_local_adjustments_hold_every_local_stage(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text(
        "grading: 1\n"
        "local: {a: {where: {gradient: {full: [0, 0], none: [0, 1]}}, lift: {shadows: 1}}}"
    )
    stages = load_recipe(path).local["a"].stages
    assert list(stages) == [stage.name for stage in LOCAL_STAGES]
    assert stages["lift"].shadows == 1


def test_a_munsell_hue_is_read_as_degrees(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text("grading: 1\nhues: {sky: {centre: 5PB}}")
    assert load_recipe(path).stages["hues"].root["sky"].centre == pytest.approx(250, abs=5)


ALLOWED_HUE = "0 to 360 degrees, or a Munsell hue such as 5PB"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "exposure: {stops: 99}",
            "2:19: exposure.stops = 99: more than 10; allowed: -10 to 10 stops",
        ),
        (
            "exposure: {stops: -11}",
            "2:19: exposure.stops = -11: less than -10; allowed: -10 to 10 stops",
        ),
        (
            "exposure: {stops: bright}",
            "2:19: exposure.stops = bright: not a number; allowed: -10 to 10 stops",
        ),
        (
            "exposure: {stops: 1 EV}",
            "2:19: exposure.stops = 1 EV: not a number; allowed: -10 to 10 stops; write 1",
        ),
        (
            "exposure:\n  stops: 0,5",
            "3:10: exposure.stops = 0,5: not a number; allowed: -10 to 10 stops; write 0.5",
        ),
        (
            "exposure: {stops: –2}",
            "2:19: exposure.stops = –2: not a number; allowed: -10 to 10 stops; write -2",
        ),
        (
            "hues: {a: {centre: 5R, saturation: 20 %}}",
            "2:36: hues.a.saturation = 20 %: not a number; allowed: -1 to 2 (fraction); write 0.2",
        ),
        (
            "exposure: {stops: 1/3}",
            "2:19: exposure.stops = 1/3: not a number; allowed: -10 to 10 stops",
        ),
        (
            "exposure: {stops: '2'}",
            "2:19: exposure.stops = '2': text; allowed: -10 to 10 stops; leave out the quotes",
        ),
        (
            "exposure: {stops: true}",
            "2:19: exposure.stops = true: not a number; allowed: -10 to 10 stops",
        ),
        (
            "exposure: {stops: .inf}",
            "2:19: exposure.stops = inf: not a finite number; allowed: -10 to 10 stops",
        ),
        (
            "exposure: 2",
            "2:11: exposure = 2: needs keys under it; allowed: the key stops; "
            "write stops: … on a line of its own below exposure, indented",
        ),
        (
            "exposure:\nstops: 1",
            "3:1: stops: unknown key; allowed: grading, title, description, extends, "
            "white_balance, exposure, lift, levels, tone_curve, split_toning, hues, cdl, local; "
            "it belongs below exposure, indented",
        ),
        (
            "saturation: 0.1",
            "2:1: saturation: unknown key; allowed: grading, title, description, extends, "
            "white_balance, exposure, lift, levels, tone_curve, split_toning, hues, cdl, local; "
            "it belongs below hues or cdl, indented",
        ),
        (
            "exposure: {stop: 1}",
            "2:12: exposure.stop: unknown key; allowed: stops; did you mean stops?",
        ),
        (
            "white_balance: {shift: 300}",
            "2:24: white_balance.shift = 300: more than 200; allowed: -200 to 200 mired",
        ),
        (
            "white_balance: {as_shot: 1}",
            "2:26: white_balance.as_shot = 1: neither true nor false; allowed: true or false",
        ),
        (
            "white_balance: {neutral: [0.5, 2]}",
            "2:32: white_balance.neutral[1] = 2: more than 1; allowed: 0 to 1",
        ),
        (
            "white_balance: {neutral: [0.5]}",
            "2:26: white_balance.neutral = [0.5]: a list of 1; allowed: two numbers [a, b], each "
            "0 to 1 (fractions of the frame's width and height)",
        ),
        (
            "white_balance: {duv: 0.01}",
            "2:1: white_balance: duv goes with kelvin: state both, or leave duv out",
        ),
        (
            "tone_curve: {points: [[0, 1], [1, 0]]}",
            "2:1: tone_curve: the points must rise from one to the next, in both numbers",
        ),
        (
            "tone_curve: {points: 3}",
            "2:22: tone_curve.points = 3: not a list; allowed: a list of two numbers [a, b], each "
            "-20 to 20 stops",
        ),
        (
            "split_toning: {shadows: {hue: blue}}",
            "2:31: split_toning.shadows.hue = blue: no hue 'blue'; allowed: " + ALLOWED_HUE,
        ),
        (
            "split_toning: {shadows: {hue: 5 pb}}",
            "2:31: split_toning.shadows.hue = 5 pb: no hue '5 pb'; allowed: "
            + ALLOWED_HUE
            + "; did you mean 5PB?",
        ),
        (
            "split_toning: {shadows: {hue: 12R}}",
            "2:31: split_toning.shadows.hue = 12R: no hue '12R'; allowed: "
            + ALLOWED_HUE
            + "; the step before R goes from 0 to 10",
        ),
        (
            "split_toning: {shadows: {hue: 400}}",
            "2:31: split_toning.shadows.hue = 400: more than 360; allowed: " + ALLOWED_HUE,
        ),
        (
            "hues: {sky: {shift: 3}}",
            f"2:8: hues.sky.centre is missing; allowed: {ALLOWED_HUE}, or all; state it",
        ),
        (
            "hues: {sky: {centre: 5QB}}",
            f"2:22: hues.sky.centre = 5QB: no hue '5QB'; allowed: {ALLOWED_HUE}, or all; "
            "did you mean 5B?",
        ),
        (
            "local: {a: {exposure: {stops: 1}}}",
            "2:9: local.a.where is missing; allowed: the keys gradient, ellipse, all, any, not; "
            "state it",
        ),
        (
            "local: {a: {where: {}}}",
            "2:13: local.a.where: state exactly one of gradient, ellipse, all, any, not",
        ),
        (
            "local: {a: {where: {any: []}}}",
            "2:26: local.a.where.any = []: an empty list; allowed: a list of the keys gradient, "
            "ellipse, all, any, not",
        ),
        (
            "local: {a: {where: {gradient: {full: [0, 0], none: [0, 0]}}}}",
            "2:21: local.a.where.gradient: full and none are the same place; a fade needs a "
            "direction",
        ),
        (
            "local: {a: {where: {all: [{not: {ellipse: {centre: [0, 0], radius: [0, 1]}}}]}}}",
            "2:69: local.a.where.all[0].not.ellipse.radius[0] = 0: not above 0; allowed: "
            "above 0 to 2",
        ),
        (
            "local: {a: {where: {gradient: {full: [0, 0], none: [0, 1]}}, tone_curve: {toe: 1}}}",
            "2:62: local.a.tone_curve: only for the whole frame; allowed: where, white_balance, "
            "exposure, lift, levels, split_toning, hues",
        ),
        ("title: 3", "2:8: title = 3: not text; allowed: text; put it in quotes"),
    ],
)  # fmt: skip
def test_messages(tmp_path, text, expected):
    assert messages(tmp_path, f"grading: 1\n{text}\n") == [f"look.yaml:{expected}"]


def test_all_problems_are_told_at_once_in_the_order_of_the_text(tmp_path):
    lines = messages(tmp_path, "grading: 1\nlift:\n  shadow: 1\n  highlights: 9\nexposur: {}\n")
    assert [line.split(": ")[0] for line in lines] == [
        "look.yaml:3:3",
        "look.yaml:4:15",
        "look.yaml:5:1",
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "look.yaml: the recipe is empty; begin with grading: 1"),
        (
            "- 1",
            "look.yaml:1:1: this is no recipe but a list; allowed: keys with values; "
            "begin with grading: 1, then one stage a line",
        ),
        (
            "root:x:0:0:root:/root:/bin/bash\ndaemon:x:1:1\n",
            "look.yaml:1:1: this is no recipe but plain text; allowed: keys with values; "
            "begin with grading: 1, then one stage a line",
        ),
        (
            "exposure: {stops: 1}",
            "look.yaml:1:1: grading is missing; allowed: 1; "
            "state grading: 1, the version of the recipe format",
        ),
        (
            "grading: true",
            "look.yaml:1:10: grading = true: another version; allowed: 1; "
            "state grading: 1, the version of the recipe format",
        ),
    ],
)
def test_a_file_that_is_no_recipe(tmp_path, text, expected):
    assert messages(tmp_path, text) == [expected]


def test_missing_file():
    with pytest.raises(RecipeError) as caught:
        load_recipe("nowhere/look.yaml")
    assert str(caught.value) == "nowhere/look.yaml: there is no such file; check the path"


def test_a_mapping_is_checked_too():
    with pytest.raises(RecipeError) as caught:
        recipe_from_mapping({"grading": 1, "exposure": {"stops": 99}}, "a.jpg.yaml")
    assert str(caught.value) == (
        "a.jpg.yaml: exposure.stops = 99: more than 10; allowed: -10 to 10 stops"
    )


def test_changed_parameters_are_in_the_mapping():
    recipe = load_recipe("evenlight")
    white = recipe.stages["white_balance"].model_copy(update={"kelvin": 5003.25, "duv": 0.0031})
    resolved = replace(recipe, stages={**recipe.stages, "white_balance": white})
    assert resolved.as_mapping()["white_balance"] == {"kelvin": 5003.25, "duv": 0.0031}


SCHEMA = jsonschema.Draft202012Validator(schema())


def _has_no_direction(data):
    if isinstance(data, list):
        return any(map(_has_no_direction, data))
    if not isinstance(data, dict):
        return False
    both = [data.get("full"), data.get("none")]
    same = None not in both and max(abs(a - b) for a, b in zip(*both, strict=True)) < 1e-3
    return same or any(map(_has_no_direction, data.values()))


@settings(max_examples=150, deadline=None)
@given(legal(RecipeModel).filter(lambda data: not _has_no_direction(data)))
def test_what_the_models_allow_loads_dumps_and_reloads_equal(data):
    SCHEMA.validate(data)
    recipe = recipe_from_mapping(data, "generated")
    text = dump_yaml(recipe.as_mapping())
    again = recipe_from_mapping(load_yaml(text, "dumped")[0], "dumped")
    assert again.stages == recipe.stages
    assert again.local == recipe.local
    assert list(again.local) == list(recipe.local)
    assert again.as_mapping() == recipe.as_mapping()
    SCHEMA.validate(again.as_mapping())
