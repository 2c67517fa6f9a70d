"""Masks under names and pictures as masks: put in their place, errors with line and column."""

import hashlib

import imagecodecs
import numpy as np
import pytest

from grading.errors import RecipeError
from grading.recipe.describe import summarise
from grading.recipe.differences import differences
from grading.recipe.load import load_recipe, recipe_from_mapping

LAMPS = "lamps: {all: [{hue: {centre: 5YR}}, {chroma: {above: 0.05}}]}"
USE = "local: {a: {where: {mask: lamps}, exposure: {stops: 1}}}"


def load(folder, *lines):
    path = folder / "look.yaml"
    path.write_text("\n".join(("grading: 1", *lines)) + "\n")
    return load_recipe(path)


def refused(folder, *lines):
    with pytest.raises(RecipeError) as caught:
        load(folder, *lines)
    return str(caught.value).removeprefix(f"{folder}/")


def test_a_name_means_what_it_stands_for(tmp_path):
    named = load(tmp_path, "masks:", f"  {LAMPS}", "  rest: {not: {mask: lamps}}",
                 "local:", "  a: {where: {mask: lamps}, exposure: {stops: 1}}",
                 "  b: {where: {any: [{mask: rest}, {mask: lamps, grow: 0.01}]}}",
                 )  # fmt: skip
    lamps = {"all": [{"hue": {"centre": named.local["a"].where.all[0].hue.centre}},
                     {"chroma": {"above": 0.05}}]}  # fmt: skip
    plain = named.as_mapping()["local"]
    assert plain["a"]["where"] == lamps
    assert plain["b"]["where"] == {"any": [{"not": lamps}, {"all": [lamps], "grow": 0.01}]}
    assert "masks" not in named.as_mapping()
    again = recipe_from_mapping(named.as_mapping(), "a.jpg.yaml")
    assert dict(again.local) == dict(named.local) and again.digest == named.digest


def test_an_inherited_mask_can_be_stated_anew(tmp_path):
    (tmp_path / "base.yaml").write_text(f"grading: 1\nmasks:\n  {LAMPS}\n{USE}\n")
    recipe = load(tmp_path, "extends: base.yaml", "masks: {lamps: {chroma: {above: 0.2}}}")
    assert recipe.as_mapping()["local"]["a"]["where"] == {"chroma": {"above": 0.2}}
    (move,) = differences(load_recipe(tmp_path / "base.yaml"), recipe)
    assert move.name.startswith("local.a.where")


def test_what_a_recipe_says_of_its_masks(tmp_path):
    text = summarise(load(tmp_path, "masks:", f"  {LAMPS}", USE))
    assert "  Mask lamps:\n    all: " in text and "where.mask: lamps" in text


def test_mistakes_are_told_with_their_place(tmp_path):
    message = refused(tmp_path, "masks:", f"  {LAMPS}", USE.replace("mask: lamps", "mask: lams"))
    assert message.startswith("look.yaml:4:27: local.a.where.mask = lams: there is no mask of this")
    assert message.endswith("did you mean lamps?")
    message = refused(tmp_path, USE)
    assert message.endswith("state it under masks, beside local")
    message = refused(tmp_path, "masks:", "  a: {not: {mask: b}}", "  b: {any: [{mask: a}]}")
    assert message.startswith("look.yaml:4:20: masks.b.any[0].mask: masks are made of each other")
    assert "a -> b -> a" in message
    message = refused(tmp_path, "masks: {a: {mask: a}}")
    assert "in a circle: a -> a" in message
    message = refused(tmp_path, "masks: {a: {lightness: {abvoe: 1}}}")
    assert message.startswith("look.yaml:2:25: masks.a.lightness.abvoe: unknown key")


def test_names_cannot_multiply_without_end(tmp_path):
    lines = [f"  m{i}: {{any: [{{mask: m{i - 1}}}, {{mask: m{i - 1}}}]}}" for i in range(1, 40)]
    message = refused(tmp_path, "masks:", "  m0: {chroma: {above: 0.1}}", *lines)
    assert message.startswith("look.yaml:13:8: masks.m10: a mask of 1024 shapes, names included")


@pytest.fixture
def picture(tmp_path):
    """A grey picture in a folder of its own, with a recipe that names it."""
    inner = tmp_path / "inner"
    inner.mkdir()
    path = inner / "sky.png"
    path.write_bytes(imagecodecs.png_encode(np.eye(9, dtype=np.uint8)))
    (inner / "base.yaml").write_text(
        "grading: 1\nlocal: {a: {where: {image: {file: sky.png}}, exposure: {stops: 1}}}\n"
    )
    return path


def test_a_picture_is_found_beside_the_recipe_that_names_it(picture, tmp_path):
    recipe = load(tmp_path, "extends: inner/base.yaml")
    image = recipe.local["a"].where.image
    assert image.file == str(picture)
    assert image.sha256 == hashlib.sha256(picture.read_bytes()).hexdigest()


def test_a_digest_of_a_recipe_follows_the_picture_and_not_its_place(picture, tmp_path):
    first = load_recipe(tmp_path / "inner" / "base.yaml")
    moved = (tmp_path / "inner").rename(tmp_path / "moved")
    assert load_recipe(moved / "base.yaml").digest == first.digest
    (moved / "sky.png").write_bytes(imagecodecs.png_encode(np.zeros((9, 9), np.uint8)))
    assert load_recipe(moved / "base.yaml").digest != first.digest


def test_numbers_name_a_picture_by_its_digest_alone(picture, tmp_path):
    plain = load_recipe(tmp_path / "inner" / "base.yaml").as_mapping()
    picture.unlink()
    plain["local"]["a"]["where"]["image"]["file"] = "../sky.png"
    recipe = recipe_from_mapping(plain, "a.jpg.yaml", tmp_path / "out" / "web")
    assert recipe.local["a"].where.image.file == str(tmp_path / "out" / "sky.png")
    del plain["local"]["a"]["where"]["image"]["sha256"]
    with pytest.raises(RecipeError, match="a.jpg.yaml: image.file = .*without its digest"):
        recipe_from_mapping(plain, "a.jpg.yaml")


@pytest.mark.parametrize(
    ("stated", "problem"),
    [
        ("{file: none.png}", "image.file = none.png: there is no such file"),
        ("{file: inner}", "image.file = inner: cannot be read"),
        ("{file: inner/base.yaml}", "image.file = inner/base.yaml: this picture cannot be a mask"),
        ('{file: "a\\0b"}', "image.file = "),
        ("{file: inner/sky.png, sha256: 12}", "not text"),
        ("{file: inner/sky.png, sha256: abc}", "not the file that sha256 states"),
    ],
)
def test_a_picture_that_cannot_be_used_is_told_with_its_place(picture, tmp_path, stated, problem):
    use = f"local: {{a: {{where: {{image: {stated}}}, exposure: {{stops: 1}}}}}}"
    message = refused(tmp_path, use)
    assert message.startswith("look.yaml:2:") and problem in message
