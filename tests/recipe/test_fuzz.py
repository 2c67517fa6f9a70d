"""Random legal recipes load; damaged ones are refused with a place, shortly and in short time."""

import random
import re
import time
from contextlib import suppress

import pytest

from grading.errors import RecipeError
from grading.recipe.load import load_recipe, recipe_from_mapping
from grading.yaml_text import SIDECAR, dump_yaml, load_yaml
from recipe.from_schema import legal_recipe

LONGEST_LINE = 1500
MAX_ERRORS = 21


def check_legal(path, number):
    data = legal_recipe(random.Random(number))
    path.write_text(dump_yaml(data), "utf-8", newline="")
    recipe = load_recipe(path)
    plain = recipe.as_mapping()
    text = dump_yaml({"recipe": {"resolved": plain}})
    read = load_yaml(text, "sidecar", limits=SIDECAR)[0]["recipe"]["resolved"]
    assert read == plain
    again = recipe_from_mapping(read, "sidecar")
    assert (again.parts, again.local) == (recipe.parts, recipe.local)


def leaves(value, path=()):
    """Paths of all numbers and truth values."""
    if isinstance(value, dict | list):
        items = value.items() if isinstance(value, dict) else enumerate(value)
        return [leaf for key, below in items for leaf in leaves(below, (*path, key))]
    return [path] if isinstance(value, int | float) else []


def with_another_value(data, rng):
    """One number made what it cannot be."""
    *above, last = rng.choice(leaves(data))
    place = data
    for step in above:
        place = place[step]
    place[last] = rng.choice(
        (
            "maybe", "9" * 9000, " " * 9000 + "1", "1,5", "5 K", "\0", "R" * 9000, [[1]] * 3,
            {"a": 1}, 10**309, -(10**309), 1e300, float("inf"), float("nan"), [0.5] * 999,
        )
    )  # fmt: skip
    return dump_yaml(data)


def with_unknown_keys(data, rng):
    place = rng.choice([data, *(value for value in data.values() if isinstance(value, dict))])
    if place in (data.get("hues"), data.get("local")):
        place = data
    for i in range(rng.choice((1, 3, 500))):
        place[rng.choice(("key", "x" * 2000, "k\n\x1b: ")) + str(i)] = rng.choice((1, None, [2]))
    place["last"] = 1
    return dump_yaml(data)


def with_deep_nest(data, rng):
    text = dump_yaml(data)
    depth = rng.choice((41, 400, 40_000))
    return text + rng.choice((f"deep: {'[' * depth}{']' * depth}", "deep: " + "{a: " * depth))


def with_aliases(data, rng):
    return dump_yaml(data) + rng.choice(
        (
            "a: &a [1, 2]\nb: [" + "*a, " * 17_000 + "]",
            f"a: &a '{'x' * 90_000}'\nb: [{'*a, ' * 3000}]",
            "a: &a [*a]",
            "a: *b",
            "a0: &a0 [1]\n"
            + "".join(f"a{i}: &a{i} [*a{i - 1}, *a{i - 1}]\n" for i in range(1, 60)),
        )
    )


def with_damaged_text(data, rng):
    """A few characters taken out, put in or doubled; what comes of it may be legal."""
    text = dump_yaml(data)
    for _ in range(rng.randint(1, 3)):
        i = rng.randrange(len(text))
        new = rng.choice(
            ("", "'", '"', "[", "}", ":", "\t", "\n", " ", "#", "- ", "\x01", text[i:])
        )
        text = text[:i] + new + text[i + rng.randrange(3) :]
    return text


DAMAGE = (
    with_another_value, with_unknown_keys, with_deep_nest, with_aliases, with_damaged_text,
)  # fmt: skip


def check_damaged(path, number):
    rng = random.Random(number)
    data = legal_recipe(rng)
    damage = rng.choice(DAMAGE if leaves(data)[1:] else DAMAGE[1:])
    text = damage(data, rng)
    path.write_text(text, "utf-8", newline="")
    try:
        load_recipe(path)
    except RecipeError as error:
        check_message(str(error), path, re.split("\r\n|\r|\n", text))
    else:
        assert damage is with_damaged_text


def check_message(message, path, lines):
    said = message.splitlines()
    assert len(said) <= MAX_ERRORS
    for line in said:
        assert len(line) < LONGEST_LINE
        assert line.isprintable()
        place = re.match(re.escape(str(path)) + r":(\d+):(\d+): ", line)
        if not place:
            assert re.fullmatch(r"and \d+ more", line) or "the recipe is empty" in line
            continue
        row, column = map(int, place.groups())
        assert 1 <= row <= len(lines)
        assert 1 <= column <= len(lines[row - 1]) + 1


@pytest.mark.parametrize(("check", "count"), [(check_legal, 60), (check_damaged, 25)])
def test_some_recipes(check, count, tmp_path):
    for number in range(count):
        check(tmp_path / "look.yaml", number)


@pytest.mark.slow
@pytest.mark.parametrize("check", [check_legal, check_damaged])
@pytest.mark.parametrize("start", range(1000, 5000, 1000))
def test_many_recipes(check, start, tmp_path):
    for number in range(start, start + 1000):
        check(tmp_path / "look.yaml", number)


GROWING = {
    "blanks": lambda n: f"exposure: {{stops: '{' ' * n}x1'}}",
    "blanks between": lambda n: f"exposure: {{stops: '1{' ' * n}1'}}",
    "digits": lambda n: f"exposure: {{stops: '{'1' * n},'}}",
    "blanks of a hue": lambda n: f"hues: {{a: {{centre: '{' ' * n}1'}}}}",
    "blanks in a hue": lambda n: f"hues: {{a: {{centre: '1{' ' * n}1'}}}}",
    "letters of a hue": lambda n: f"hues: {{a: {{centre: '{'R' * n}'}}}}",
    "a key": lambda n: f"? {'stops' * (n // 5)}\n: 1",
    "tabs": lambda n: "a: [" + "1\t,\t" * (n // 4) + "]",
    "blank lines of tabs": lambda n: "\t\n" * (n // 2),
    "open quotes": lambda n: "title: '" + "\n a:b" * (n // 5),
    "keys": lambda n: "".join(f"k{i}: 1\n" for i in range(n // 20)),
    "masks": lambda n: f"local: {{a: {{where: {{all: [{'{x: 1}, ' * (n // 20)}]}}}}}}",
}


def seconds(path, text):
    """Of the processor, the least of three."""
    path.write_text(f"grading: 1\n{text}\n")
    times = []
    for _ in range(3):
        start = time.process_time()
        with suppress(RecipeError):
            load_recipe(path)
        times.append(time.process_time() - start)
    return min(times)


@pytest.mark.parametrize("kind", GROWING)
def test_time_grows_no_faster_than_the_text(kind, tmp_path):
    """Four times the text takes four times as long; sixteen times were it quadratic."""
    short, long = (seconds(tmp_path / "look.yaml", GROWING[kind](n)) for n in (4000, 16_000))
    assert long < 8 * short + 0.05
