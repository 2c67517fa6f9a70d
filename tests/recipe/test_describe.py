"""Schema, `explain` and `check`: all from the models."""

from typing import get_args

import jsonschema
import pytest
from pydantic import RootModel

from grading.errors import RecipeError
from grading.masks.ellipse import Ellipse
from grading.masks.gradient import Gradient
from grading.masks.where import Where
from grading.recipe.describe import explain, schema, schema_text, summarise
from grading.recipe.inheritance import look_names, looks_folder
from grading.recipe.load import load_recipe
from grading.recipe.problems import _MEANT
from grading.stages.registry import STAGES
from grading.yaml_text import load_yaml

VALIDATOR = jsonschema.Draft202012Validator(schema())


def test_the_schema_is_one():
    jsonschema.Draft202012Validator.check_schema(schema())


def test_the_committed_schema_is_up_to_date():
    path = looks_folder() / "grading.schema.json"
    remedy = f"run: grading schema --overwrite {path}"
    assert path.read_text("utf-8") == schema_text(), remedy


@pytest.mark.parametrize("name", look_names())
def test_looks_keep_to_the_schema_and_name_it(name):
    text = (looks_folder() / f"{name}.yaml").read_text("utf-8")
    assert text.startswith("# yaml-language-server: $schema=grading.schema.json\n")
    VALIDATOR.validate(load_yaml(text, name)[0])


@pytest.mark.parametrize("name", look_names())
def test_looks_load_and_tell_what_they_are_for(name):
    recipe = load_recipe(name)
    assert recipe.title and recipe.description
    assert recipe.as_mapping().keys() - {"grading", "title", "description"}


@pytest.mark.parametrize(
    "data",
    [
        {"grading": 1, "exposure": None, "hues": {"sky": None}},
        {"grading": 1, "extends": "evenlight", "hues": {"sky": {"shift": 3}}},
        {"grading": 1, "white_balance": {"kelvin": None, "neutral": [0.5, 0.5]}},
        {"grading": 1, "local": {"a": {"exposure": {"stops": 1}}}},
    ],
)
def test_the_schema_allows_what_a_file_that_extends_may_say(data):
    VALIDATOR.validate(data)


@pytest.mark.parametrize(
    "data",
    [
        {},
        {"grading": 2},
        {"grading": None},
        {"grading": 1, "exposure": {"stops": 99}},
        {"grading": 1, "exposure": {"stops": "2"}},
        {"grading": 1, "exposur": {}},
        {"grading": 1, "white_balance": {"kelvin": 5000, "neutral": [0.5, 0.5]}},
        {"grading": 1, "white_balance": {"neutral": [0.5]}},
        {"grading": 1, "hues": {"sky": {"centre": "5QB"}}},
        {"grading": 1, "local": {"a": {"where": {"gradient": {"full": [0, 9]}}}}},
        {"grading": 1, "local": {"a": {"where": {"any": []}}}},
    ],
)
def test_the_schema_refuses(data):
    with pytest.raises(jsonschema.ValidationError):
        VALIDATOR.validate(data)


def _keys(model, before=""):
    """Every key of a model with its doc, found without the schema."""
    if issubclass(model, RootModel):
        yield from _keys(get_args(model.model_fields["root"].annotation)[1], "NAME.")
        return
    for name, field in model.model_fields.items():
        if hasattr(field.annotation, "model_fields"):
            yield from _keys(field.annotation, f"{before}{name}.")
        else:
            yield before + name, field.description


@pytest.mark.parametrize("stage", STAGES, ids=lambda stage: stage.name)
def test_explain_covers_every_key(stage):
    text = explain(stage.name)
    keys = list(_keys(stage.parameters))
    assert keys
    for key, doc in keys:
        head, said = text.split(f"\n{key}: ")[1].split("\n\n")[0].split("\n", 1)
        assert head
        assert said.split() == doc.split()


def test_explain_where_covers_every_shape():
    text = " ".join(explain("where").split())
    for name, shape in (("gradient", Gradient), ("ellipse", Ellipse)):
        for key, field in shape.model_fields.items():
            assert f"{name}.{key}: " in text
            assert " ".join(field.description.split()) in text
    for field in Where.model_fields.values():
        if field.alias or field.annotation == list[Where] | None:
            assert field.description in text


def test_explain_a_key():
    assert explain("exposure.stops") == (
        "exposure.stops: -10 to 10 stops; default 0\n    Brighter above 0, darker below."
    )


def test_explain_the_pipeline_in_order():
    text = explain()
    places = [text.index(f" {stage.name} ") for stage in STAGES]
    assert places == sorted(places)


def test_explain_reports_which_keys_are_local():
    assert explain("white_balance").endswith("In a local adjustment: shift.\n")
    assert explain("exposure").endswith("In a local adjustment: stops.\n")
    assert explain("lift").endswith("In a local adjustment: all of these keys.\n")
    assert explain("tone_curve").endswith("In a local adjustment: all of these keys.\n")
    assert "local" not in explain("cdl")


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("exposur", "there is no stage exposur; allowed: spots, lens, fringes, white_balance, "),
        ("exposure.stop", "exposure has no key stop; allowed: stops, levelling; did you mean"),
    ],
)
def test_explain_what_does_not_exist(name, expected):
    with pytest.raises(RecipeError) as caught:
        explain(name)
    assert str(caught.value).startswith(expected)


@pytest.mark.parametrize(
    ("name", "remedy"),
    [
        ("crop", "see `grading explain framing`"),
        ("stops", "see `grading explain exposure` or `grading explain vignette`"),
        ("sharpen", "deblur states it; see `grading explain deblur`"),
    ],
)
def test_explain_says_where_a_key_is(name, remedy):
    with pytest.raises(RecipeError) as caught:
        explain(name)
    assert caught.value.remedy == remedy


def test_what_is_meant_by_another_name_is_there():
    for meant in _MEANT.values():
        assert explain(meant)


def test_summary_of_a_recipe(tmp_path):
    (tmp_path / "base.yaml").write_text("grading: 1\nexposure: {stops: 0.5}\n")
    path = tmp_path / "own.yaml"
    path.write_text(
        "grading: 1\ntitle: Own\ndescription: For tests.\nextends: base.yaml\n"
        "hues: {sky: {centre: 5PB, shift: -5}}\n"
        "local: {top: {where: {gradient: {full: [0, 0], none: [0, 1]}}, exposure: {stops: 1}}}\n"
    )
    assert summarise(load_recipe(path)) == (
        f"Own ({path})\n"
        "  For tests.\n"
        "  Extends base.yaml.\n"
        "  Exposure: more or less light, in stops.\n"
        "    stops: 0.5 stops  (from base.yaml:2)\n"
        "  Hues: windows on the circle of hue, to shift, saturate, mute or lighten only some "
        "colours.\n"
        "    sky.centre: 5PB\n"
        "    sky.shift: -5 degrees\n"
        "  Local adjustment top:\n"
        "    where.gradient.full: [0, 0] (fractions of the frame)\n"
        "    where.gradient.none: [0, 1] (fractions of the frame)\n"
        "    exposure.stops: 1 stops\n"
    )


def test_summary_of_a_recipe_that_does_nothing(tmp_path):
    path = tmp_path / "own.yaml"
    path.write_text("grading: 1\n")
    last = "Leaves everything alone, but for the colour noise of noisy raws.\n"
    assert summarise(load_recipe(path)).endswith(last)


def test_masks_are_reported_in_full(tmp_path):
    path = tmp_path / "own.yaml"
    path.write_text(
        "grading: 1\nlocal:\n  top:\n    exposure: {stops: 1}\n    where:\n      all:\n"
        "        - gradient: {full: [0, 0], none: [0, 1]}\n"
        "        - not: {ellipse: {centre: [0.5, 0.5], radius: [0.1, 0.2], turn: 30}}\n"
    )
    assert (
        "where.all: [{gradient: {full: [0, 0], none: [0, 1]}}, "
        "{not: {ellipse: {centre: [0.5, 0.5], radius: [0.1, 0.2], turn: 30}}}]\n"
    ) in summarise(load_recipe(path))


def test_local_explains_the_masks():
    assert explain("local") == explain("where")
