"""Values as messages show them."""

from math import inf

import pytest

from grading.recipe.keys import in_yaml


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (0.5, "0.5"),
        (2.0, "2"),
        (10.0000001, "10.0000001"),
        (0.1 + 0.2, "0.30000000000000004"),
        (True, "true"),
        (None, "null"),
        ([1, {"a": [2.5]}], "[1, {a: [2.5]}]"),
        ("a\nb", r"a\nb"),
        ("x" * 61, "x" * 59 + "…"),
        ([1] * 40_000, ("[" + "1, " * 20)[:59] + "…"),
    ],
)
def test_no_digit_is_lost_and_no_value_is_long(value, shown):
    assert in_yaml(value) == shown


def test_all_of_a_value_where_it_may_be_long():
    assert in_yaml([1] * 100, inf) == "[" + ", ".join(["1"] * 100) + "]"
