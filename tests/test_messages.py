"""Parts of messages."""

import pytest

from grading.messages import LONGEST_VALUE, listed, nearest, shortened


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("dusk", "dusk"),
        ("d" * LONGEST_VALUE, "d" * LONGEST_VALUE),
        ("d" * (LONGEST_VALUE + 1), "d" * (LONGEST_VALUE - 1) + "…"),
        ("a\x1b[31m\nb\0", r"a\x1b[31m\nb\x00"),
        ("\0" * LONGEST_VALUE, (r"\x00" * LONGEST_VALUE)[: LONGEST_VALUE - 1] + "…"),
    ],
)
def test_a_value_is_short_and_on_one_line(text, shown):
    assert shortened(text) == shown


def test_a_long_list_is_cut():
    assert listed(["a", "b"]) == "a, b"
    assert listed([str(i) for i in range(23)]).endswith("18, 19 and 3 more")
    assert listed(["d" * 100]) == "d" * (LONGEST_VALUE - 1) + "…"


def test_the_name_that_was_meant():
    names = ["stops", "shadows", "s" * 100_000]
    assert nearest("stop", names) == "stops"
    assert nearest("quux", names) is None
    assert nearest("s" * (LONGEST_VALUE + 1), ["s" * LONGEST_VALUE]) is None
