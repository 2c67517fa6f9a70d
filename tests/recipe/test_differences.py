"""What differs between recipes, and one difference at a time."""

from itertools import permutations

import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine.resolve import resolve
from grading.recipe.differences import differences, with_difference
from grading.recipe.inheritance import look_names
from grading.recipe.load import load_recipe

GRADIENT = {"gradient": {"full": [0, 0], "none": [0, 1]}}
ELLIPSE = {"ellipse": {"centre": [0.5, 0.5], "radius": [0.2, 0.3]}}


def words(first, second):
    return {each.name: list(each.lines) for each in differences(first, second)}


@pytest.mark.parametrize(
    ("first", "second", "name", "line"),
    [
        ({"stops": 0.3}, {"stops": 0.8}, "exposure.stops",
         "exposure.stops: 0.3 -> 0.8 stops (+0.5)"),
        ({}, {"stops": -1}, "exposure.stops", "exposure.stops: 0 -> -1 stops (-1)"),
    ],
)  # fmt: skip
def test_a_number_with_its_unit_and_step(first, second, name, line):
    assert words(recipe(exposure=first), recipe(exposure=second)) == {name: [line]}


def test_what_is_not_stated_is_none():
    assert words(recipe(), recipe(levels={"black": -8})) == {
        "levels.black": ["levels.black: none -> -8 stops"]
    }


def test_a_hue_turns_the_short_way():
    first = recipe(split_toning={"shadows": {"hue": 350, "chroma": 0.02}})
    second = recipe(split_toning={"shadows": {"hue": 15, "chroma": 0.02}})
    assert words(first, second) == {
        "split_toning.shadows": ["split_toning.shadows.hue: 350 -> 15 degrees (+25)"]
    }


def test_keys_of_one_tint_are_one_move():
    first = recipe(split_toning={"highlights": {"hue": 60, "chroma": 0.02}})
    second = recipe(split_toning={"highlights": {"hue": 80, "chroma": 0.03}, "balance": 1})
    assert words(first, second) == {
        "split_toning.highlights": [
            "split_toning.highlights.hue: 60 -> 80 degrees (+20)",
            "split_toning.highlights.chroma: 0.02 -> 0.03 Oklab chroma (+0.01)",
        ],
        "split_toning.balance": [
            "split_toning.balance: 0 -> 1 stops from middle grey (+1)",
        ],
    }


def test_a_window_that_one_recipe_has():
    lamps = {"centre": 60, "saturation": 0.3}
    first, second = recipe(), recipe(hues={"lamps": lamps})
    assert words(first, second) == {
        "hues.lamps": ["hues.lamps: none -> {centre: 60, saturation: 0.3}"]
    }
    assert words(second, first) == {
        "hues.lamps": ["hues.lamps: {centre: 60, saturation: 0.3} -> none"]
    }


def test_ways_to_state_the_light_go_together():
    first, second = (
        recipe(white_balance={"as_shot": True}),
        recipe(white_balance={"kelvin": 5200.0, "duv": 0.002, "shift": -10}),
    )
    found = differences(first, second)
    assert [each.name for each in found] == ["white_balance", "white_balance.shift"]
    assert found[0].lines == (
        "white_balance.as_shot: true -> none",
        "white_balance.kelvin: none -> 5200 kelvin",
        "white_balance.duv: none -> 0.002 Duv",
    )
    moved = with_difference(first, second, found[0]).stages["white_balance"]
    assert (moved.as_shot, moved.kelvin, moved.duv, moved.shift) == (None, 5200, 0.002, 0)


def test_resolved_recipes_tell_the_light_in_numbers():
    shot = frame(scene(8, 8))
    first, second = resolve(recipe(), shot), recipe(white_balance={"kelvin": 5000})
    found = words(first, resolve(second, shot))["white_balance"]
    assert found[0].startswith("white_balance.kelvin: 650") and "-> 5000 kelvin (-150" in found[0]


def test_local_adjustments():
    first = recipe(local={
        "sky": {"where": GRADIENT, "exposure": {"stops": -0.5}},
        "face": {"where": ELLIPSE, "exposure": {"stops": 0.2}},
    })  # fmt: skip
    second = recipe(local={
        "sky": {"where": ELLIPSE, "exposure": {"stops": -0.7}, "lift": {"shadows": 1}},
    })  # fmt: skip
    found = words(first, second)
    assert list(found) == [
        "local.sky.where", "local.sky.exposure.stops", "local.sky.lift.shadows", "local.face",
    ]  # fmt: skip
    assert found["local.sky.exposure.stops"] == [
        "local.sky.exposure.stops: -0.5 -> -0.7 stops (-0.2)"
    ]
    assert found["local.face"] == [
        "local.face: {where: {ellipse: {centre: [0.5, 0.5], radius: [0.2, 0.3]}}, "
        "exposure: {stops: 0.2}} -> none"
    ]


def test_the_order_of_local_adjustments():
    a, b = ({"where": where, "exposure": {"stops": 1}} for where in (GRADIENT, ELLIPSE))
    first, second = recipe(local={"a": a, "b": b}), recipe(local={"b": b, "a": a})
    found = differences(first, second)
    assert [each.lines for each in found] == [("local: order a, b -> b, a",)]
    turned = with_difference(first, second, found[0])
    assert list(turned.local) == ["b", "a"]
    assert turned.local["a"] == first.local["a"]


def test_the_order_is_taken_over_without_other_changes():
    a, b = ({"where": where, "exposure": {"stops": 1}} for where in (GRADIENT, ELLIPSE))
    first = recipe(local={"a": a, "b": b, "c": a})
    second = recipe(local={"b": b | {"exposure": {"stops": 2}}, "a": a})
    *_, order = differences(first, second)
    turned = with_difference(first, second, order)
    assert list(turned.local) == ["b", "a", "c"]
    assert turned.local["b"] == first.local["b"]


def test_titles_and_files_do_not_count(tmp_path):
    for name, text in {
        "base": "grading: 1\ntitle: Base\nexposure: {stops: 0.3}\n",
        "same": "grading: 1\ntitle: Other\nextends: base.yaml\n",
        "child": "grading: 1\nextends: base.yaml\nexposure: {stops: null}\n",
    }.items():
        (tmp_path / f"{name}.yaml").write_text(text)
    base, same, child = (
        load_recipe(tmp_path / f"{name}.yaml") for name in ("base", "same", "child")
    )
    assert differences(base, same) == []
    assert words(base, child) == {"exposure.stops": ["exposure.stops: 0.3 -> 0 stops (-0.3)"]}


@pytest.mark.parametrize(("first", "second"), list(permutations(look_names(), 2)))
def test_one_move_takes_away_its_own_difference_only(first, second):
    first, second = load_recipe(first), load_recipe(second)
    moves = differences(first, second)
    assert moves
    for move in moves:
        rest = differences(with_difference(first, second, move), second)
        assert [each.name for each in rest] == [m.name for m in moves if m is not move]
    for move in moves:
        first = with_difference(first, second, move)
    assert differences(first, second) == []


def test_a_lens_in_numbers_does_not_stand_in_the_way_of_other_differences():
    numbers = {"distortion": {"radial": [1, 0, 0.02]}}
    resolved = recipe(lens={"numbers": numbers})
    bright = recipe(lens={"numbers": numbers}, exposure={"stops": 1})
    (move,) = differences(resolved, bright)
    assert with_difference(resolved, bright, move).stages["exposure"].stops == 1
    plain = recipe(lens={"from": "nothing"})
    (move,) = differences(resolved, plain)
    assert move.lines[:2] == (
        "lens.from: none -> nothing",
        "lens.numbers: {distortion: {radial: [1, 0, 0.02]}} -> none",
    )
    taken = with_difference(resolved, plain, move).parts["lens"]
    assert (taken.from_, taken.numbers) == ("nothing", None)
