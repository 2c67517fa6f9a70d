"""Recipes from files and mappings, and what is said of bad ones."""

from dataclasses import replace

import jsonschema
import pytest
from click.testing import CliRunner
from hypothesis import given, settings

from grading.cli import main
from grading.errors import RecipeError, SidecarError
from grading.masks.where import Where
from grading.recipe.describe import schema
from grading.recipe.load import load_recipe, recipe_from_mapping
from grading.recipe.masks import MOST
from grading.recipe.model import RecipeModel
from grading.stages.registry import PARTS, STAGES
from grading.yaml_text import RECIPE, SIDECAR, dump_yaml, load_yaml, read_text
from legal_parameters import legal

NAMES = ", ".join(part.name for part in PARTS)
LOCAL = ", ".join(stage.name for stage in STAGES if stage.local)


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
    assert list(stages) == [stage.name for stage in STAGES if stage.local]
    assert stages["lift"].shadows == 1


def test_a_munsell_hue_is_read_as_degrees(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text("grading: 1\nhues: {sky: {centre: 5PB}}")
    assert load_recipe(path).stages["hues"].root["sky"].centre == pytest.approx(250, abs=5)


MASKS = ", ".join(Where.exclusive[0])
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
            "2:11: exposure = 2: needs keys under it; allowed: the keys stops, levelling; "
            "write stops: … on a line of its own below exposure, indented",
        ),
        (
            "exposure:\nstops: 1",
            "3:1: stops: unknown key; allowed: grading, title, description, extends, "
            f"{NAMES}, masks, local; "
            "it belongs below exposure or vignette, indented",
        ),
        (
            "saturation: 0.1",
            "2:1: saturation: unknown key; allowed: grading, title, description, extends, "
            f"{NAMES}, masks, local; "
            "it belongs below hues or cdl, indented",
        ),
        (
            "white_balance: {temperature: 5000}",
            "2:17: white_balance.temperature: unknown key; allowed: as_shot, kelvin, duv, neutral, "
            "shift, cameras, calibrations; white_balance.kelvin states it; see "
            "`grading explain white_balance.kelvin`",
        ),
        (
            "exposure: {stop: 1}",
            "2:12: exposure.stop: unknown key; allowed: stops, levelling; did you mean stops?",
        ),
        (
            "white_balance: {shift: 300}",
            "2:24: white_balance.shift = 300: more than 200; allowed: -200 to 200 mired",
        ),
        (
            "white_balance: {as_shot: 1}",
            "2:26: white_balance.as_shot = 1: not true; allowed: true",
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
            "split_toning: {shadows: {hue: bleu}}",
            "2:31: split_toning.shadows.hue = bleu: no hue 'bleu'; allowed: "
            + ALLOWED_HUE
            + "; blue lies near 245 degrees, 5PB",
        ),
        (
            "split_toning: {shadows: {hue: teal}}",
            "2:31: split_toning.shadows.hue = teal: no hue 'teal'; allowed: "
            + ALLOWED_HUE
            + "; near these degrees lie red 19, orange 57, yellow 91, green 167, blue 245, violet "
            "293, purple 320; `grading explain hues` lists more",
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
            f"2:8: hues.sky.centre is missing; allowed: {ALLOWED_HUE}, or all or others; state it",
        ),
        (
            "hues: {sky: {centre: 5QB}}",
            f"2:22: hues.sky.centre = 5QB: no hue '5QB'; allowed: {ALLOWED_HUE}, or all or others; "
            "did you mean 5B?",
        ),
        (
            "local: {a: {exposure: {stops: 1}}}",
            f"2:9: local.a.where is missing; allowed: the keys {MASKS}, grow; state it",
        ),
        (
            "local: {a: {where: {}}}",
            f"2:13: local.a.where: state exactly one of {MASKS}",
        ),
        (
            "local: {a: {where: {any: []}}}",
            "2:26: local.a.where.any = []: an empty list; allowed: a list of the keys "
            f"{MASKS}, grow",
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
            "local: {a: {where: {gradient: {full: [0, 0], none: [0, 1]}}, cdl: {id: '1'}}}",
            "2:62: local.a.cdl: only for the whole frame; allowed: where, "
            f"{LOCAL}",
        ),
        ("title: 3", "2:8: title = 3: not text; allowed: text; put it in quotes"),
    ],
)  # fmt: skip
def test_messages(tmp_path, text, expected):
    assert messages(tmp_path, f"grading: 1\n{text}\n") == [f"look.yaml:{expected}"]


def test_all_problems_are_reported_at_once_in_the_order_of_the_text(tmp_path):
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
            "look.yaml:1:1: this is not a recipe but a list; allowed: keys with values; "
            "begin with grading: 1, then one stage a line",
        ),
        (
            "root:x:0:0:root:/root:/bin/bash\ndaemon:x:1:1\n",
            "look.yaml:1:1: this is not a recipe but plain text; allowed: keys with values; "
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


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (f"exposure: {{stops: {'9' * 310}}}", "2:19: exposure.stops = 999"),
        (f"exposure: {{stops: '{'9' * 310}'}}", "2:19: exposure.stops = 999"),
        (f"exposure: {{stops: '{'9' * 310} K'}}", "2:19: exposure.stops = 999"),
        (f"hues: {{a: {{centre: -{'9' * 310}}}}}", "2:20: hues.a.centre = -999"),
        (f"lift: {{shadows: '{' ' * 9000}1'}}", "2:17: lift.shadows = '"),
        (
            f'lift: {{shadows: "{chr(92)}e{chr(92)}n{"x" * 9000}"}}',
            r"2:17: lift.shadows = \x1b\nxxx",
        ),
        (f"{'x' * 1000}: 1", "2:1: xxx"),
        (f"hues: {{a: {{centre: {'R' * 9000}}}}}", "2:20: hues.a.centre = RRR"),
        (f"local: {{{'x' * 1000}: 3}}", "2:1011: local.xxx"),
        (f"local: {{{'x' * 1000}: {{where: 3}}}}", "2:1019: local.xxx"),
        (f"white_balance: {{as_shot: [{'1, ' * 9000}]}}", "2:26: white_balance.as_shot = [1, 1"),
    ],
)
def test_a_long_value_is_shortened(tmp_path, text, expected):
    (line,) = messages(tmp_path, f"grading: 1\n{text}\n")
    assert line.startswith(f"look.yaml:{expected}")
    assert len(line) < 500


def test_a_version_of_310_digits(tmp_path):
    (line,) = messages(tmp_path, "grading: " + "9" * 310)
    assert line.startswith("look.yaml:1:10: grading = 999")


def test_twenty_problems_are_shown(tmp_path):
    lines = messages(tmp_path, "grading: 1\n" + "".join(f"k{i}: 1\n" for i in range(30)))
    assert [line.split(": ")[0] for line in lines[:-1]] == [
        f"look.yaml:{i + 2}:1" for i in range(20)
    ]
    assert lines[-1] == "and 10 more"
    twenty = messages(tmp_path, "grading: 1\n" + "".join(f"k{i}: 1\n" for i in range(20)))
    assert twenty == lines[:-1]


@pytest.mark.parametrize(
    ("mapping", "name"),
    [
        ({"cdl": {"file": "/etc/passwd"}}, "cdl.file = /etc/passwd"),
        ({"extends": "a"}, "extends = a"),
    ],
)
def test_a_mapping_reads_no_file(mapping, name, monkeypatch):
    monkeypatch.setattr("os.open", None)
    with pytest.raises(RecipeError) as caught:
        recipe_from_mapping({"grading": 1, **mapping}, "a.jpg.yaml")
    assert str(caught.value) == (
        f"a.jpg.yaml: {name}: names a file; allowed: numbers: a recipe that is no file reads none; "
        "restore the sidecar, or write the values out"
    )


def deepest(inside):
    """As many masks in one another as a recipe may nest about a fade."""
    masks = RECIPE.depth - 7
    return f"local: {{a: {{where: {'{not: ' * masks}{inside}{'}' * masks}}}}}\n"


FADE = "{gradient: {full: [0, 0], none: [.123456789012345, 1]}}"


def read_back_from_a_sidecar(path):
    mapping = {"recipe": {"resolved": load_recipe(path).as_mapping()}}
    sidecar = path.with_name("a.jpg.yaml")
    sidecar.write_text(dump_yaml(mapping), "utf-8")
    text = read_text(sidecar, SidecarError, limits=SIDECAR)
    assert load_yaml(text, sidecar, SidecarError, limits=SIDECAR)[0] == mapping
    recipe_from_mapping(mapping["recipe"]["resolved"], "sidecar")


def test_the_deepest_masks_are_read_back_from_a_sidecar(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text(f"grading: 1\n{deepest(FADE)}")
    read_back_from_a_sidecar(path)


@pytest.mark.slow
@pytest.mark.parametrize(
    "text",
    [
        f"description: {'word ' * 209_000}",
        'title: &a "' + "\U0010ffff" * 262_000 + '"\ndescription: *a',
        'title: &a "' + r"\0" * 520_000 + '"\ndescription: *a',
        f"title: {chr(0x10FFFF) * 150_000}\nlocal:\n"
        + "".join(f" {name}: {{where: {{all: [{MOST * (FADE + ', ')}]}}}}\n" for name in "abcdef"),
    ],
    ids=["long", "astral", "zeros", "many"],
)
def test_the_largest_recipes_are_read_back_from_a_sidecar(tmp_path, text):
    path = tmp_path / "look.yaml"
    path.write_text(f"grading: 1\n{text}", "utf-8")
    read_back_from_a_sidecar(path)


def test_one_level_more_is_too_deep(tmp_path):
    path = tmp_path / "look.yaml"
    path.write_text("grading: 1\n" + deepest("{not: " + FADE + "}"))
    with pytest.raises(RecipeError, match="nested more than 40 levels deep"):
        load_recipe(path)


def test_check_goes_on_after_a_bad_recipe(tmp_path):
    (tmp_path / "long.yaml").write_text(f"grading: 1\nextends: {'a' * 300}")
    (tmp_path / "good.yaml").write_text("grading: 1\ntitle: Good")
    names = [str(tmp_path / name) for name in ("long.yaml", "good.yaml")]
    result = CliRunner().invoke(main, ["check", "a" * 5000, *names])
    assert result.exit_code == 1
    assert result.stdout.startswith("Good (")
    first, second = result.stderr.splitlines()
    assert first.startswith("there is no look named aaa")
    assert second.startswith(f"{names[0]}:2:10: there is no look named aaa")


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
    resolved = replace(recipe, parts={**recipe.parts, "white_balance": white})
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
    assert again.parts == recipe.parts
    assert again.local == recipe.local
    assert list(again.local) == list(recipe.local)
    assert again.as_mapping() == recipe.as_mapping()
    SCHEMA.validate(again.as_mapping())


def test_as_shot_is_true_or_not_there(tmp_path):
    """``false`` was once accepted and meant true."""
    path = tmp_path / "look.yaml"
    path.write_text("grading: 1\nwhite_balance: {as_shot: false}\n")
    with pytest.raises(RecipeError, match=r"look.yaml:2:26: .*as_shot: false says nothing; write"):
        load_recipe(path)
    path.write_text("grading: 1\nwhite_balance: {as_shot: true}\n")
    assert load_recipe(path).stages["white_balance"].as_shot is True
