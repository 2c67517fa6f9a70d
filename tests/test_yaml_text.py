"""The YAML 1.2 core schema (YAML 1.2.2, 10.3.2), positions, bounds and plain words."""

import math
import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.errors import RecipeError, SidecarError
from grading.yaml_parser import Position
from grading.yaml_text import (
    RECIPE,
    SIDECAR,
    Limits,
    check_limits,
    dump_yaml,
    load_yaml,
    read_text,
)


def load(text):
    return load_yaml(text, "look.yaml")[0]


def message(text):
    with pytest.raises(RecipeError) as caught:
        load(text)
    return str(caught.value)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # words that YAML 1.1 reads as booleans
        ("no", "no"), ("on", "on"), ("Yes", "Yes"), ("off", "off"), ("y", "y"),
        # the table of YAML 1.2.2, 10.3.2
        ("true", True), ("True", True), ("FALSE", False),
        ("null", None), ("~", None), ("Null", None), ("", None),
        ("0", 0), ("0o7", 7), ("0x3A", 58), ("-19", -19), ("+12", 12),
        ("0.", 0.0), ("-0.0", -0.0), (".5", 0.5), ("+12e03", 12000.0), ("-2E+05", -200000.0),
        (".inf", math.inf), ("-.Inf", -math.inf), ("+.INF", math.inf),
        # no sexagesimal, no timestamp, no octal 010, no grouping, which YAML 1.1 has
        ("1:30", "1:30"), ("2024-01-01", "2024-01-01"), ("010", 10), ("1_000", "1_000"),
        ("1e3", 1000.0), ("tRUE", "tRUE"), ("'5'", "5"), ("!!str 5", "5"), ("!!float 5", 5.0),
    ],
)  # fmt: skip
def test_core_schema(text, value):
    read = load(f"a: {text}")["a"]
    assert read == value
    assert type(read) is type(value)


def test_not_a_number_is_read_as_one():
    assert math.isnan(load("a: .nan")["a"])


def test_merge_key_is_plain_text():
    assert load("<<: {a: 1}") == {"<<": {"a": 1}}


def test_anchors_and_aliases():
    assert load("a: &x [1, 2]\nb: *x") == {"a": [1, 2], "b": [1, 2]}


def test_nothing_is_none():
    assert load_yaml("# only a comment\n", "look.yaml") == (None, {})


def test_positions():
    _, positions = load_yaml("a: 1\nb:\n  c: [5,\n      6]\n", "f")
    assert positions["a",].key == Position("f", 1, 1)
    assert positions["a",].value == Position("f", 1, 4)
    assert positions["b", "c"].key == Position("f", 3, 3)
    assert positions["b", "c", 1].value == Position("f", 4, 7)
    assert str(positions["b", "c", 1].value) == "f:4:7"
    assert set(positions) == {(), ("a",), ("b",), ("b", "c"), ("b", "c", 0), ("b", "c", 1)}


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a: 1\nb: 2\na: 3", "3:1: a is stated twice, first in line 1; keep one of the two"),
        ("a:\n\tb: 1", "2:1: a tab where YAML wants spaces; indent with spaces"),
        (
            "a: b: c",
            "1:5: a colon where there can be none; check the indentation, and put text that "
            "contains a colon in quotes",
        ),
        ("a: [1, 2\nb: 3", "1:4: a bracket is opened and not closed; close it, or add a comma"),
        ("a: 'abc\n", "1:4: a quote is opened and never closed; close it"),
        ("a: *x", "1:4: an alias without an anchor of its name; write the value out"),
        ("a: 1\n---\nb: 2", "2:1: a second document begins; keep one document a file"),
        ("true: 2", "1:1: the key true is not text; put it in quotes"),
        (
            "{stops: 0,5}",
            "1:11: the key 5 is not text; put it in quotes; "
            "if a comma in a number was meant, write a point",
        ),
        ("? [a]\n: 2", "1:3: the key made of several values is not text; put it in quotes"),
        ("a: @x", "1:4: a character that cannot begin a value; put the value in quotes"),
        ("a: \x07", "1:4: there is a control character, '\\x07', in the text; delete it"),
        (
            'a: "\\ud83c"',
            "1:4: half of a surrogate pair, which is no character; "
            r"write the character itself, or \U and eight digits",
        ),
        (
            'a: 1\n"\\udc00": 2',
            "2:1: half of a surrogate pair, which is no character; "
            r"write the character itself, or \U and eight digits",
        ),
        ("a: !!int x", "1:4: x is no int; write a plain value"),
        (
            "a: !!python/name:os.system x",
            "1:4: the tag !!python/name:os.system is not known here; leave it out: only text, "
            "numbers, true, false, null, lists and mappings are read",
        ),
        ("a: &x [*x]", "1:8: an alias that contains itself; write its value out"),
        ("a: " + "[" * 100, "1:43: nested more than 40 levels deep; state less"),
        (
            "a: 'b\nc: 'd'\n",
            "1:4: a quote is opened and never closed; close it",
        ),
        ("a:\n  b\n  c: 1", "2:3: a key without its colon; write key: value"),
        ("a:\n  b 1 # c\n  d: 1", "2:3: a key without its colon; write key: value"),
        (
            " a: 1\nb: 2",
            "2:1: this line does not fit the lines above; check the indentation and open quotes",
        ),
        ("a: {b: 1 c: 2}", "1:4: a bracket is opened and not closed; close it, or add a comma"),
        ("a: [1,,2]", "1:7: a value is missing here; write one; put text such as ] in quotes"),
        ("a: &x 1\nb: &x 2", "2:4: there is an anchor of this name above; give it another name"),
        (
            "a: 1\n- 2",
            "2:1: this line does not fit the lines above; check the indentation and open quotes",
        ),
        ("a: - 2", "1:4: this cannot be here; check the indentation"),
        ("a: *", "1:4: no name after * or &; put text that begins so in quotes"),
        ('a: "\\q"', r"1:6: an escape that YAML does not know; for a backslash write \\"),
        ('a: "\\UFFFFFFFF"', "1:7: a number too large for a character or a version; correct it"),
        (
            "%YAML 1." + 5000 * "1" + "\n---\na: 1",
            "1:9: a number too large for a character or a version; correct it",
        ),
        ("a: | b", "1:4: more than | or > in its line; begin the text in the line below"),
        ("%YAML 2\n---\n", "1:8: a directive; leave out lines with %"),
        ("a: 1\n%b\nc: 2", "2:1: a line that begins with %; put the text in quotes"),
        ("a: !<b", "1:4: a tag that is not valid; put text that begins with ! in quotes"),
        (
            "a: !" + "b" * 1000,
            "1:4: the tag !" + "b" * 58 + "… is not known here; leave it out: "
            "only text, numbers, true, false, null, lists and mappings are read",
        ),
    ],
)
def test_messages(text, expected):
    assert message(text) == f"look.yaml:{expected}"


@pytest.mark.parametrize(
    "text",
    [
        "a: 1\t# blanks before a comment",
        "a:\t1",
        "a\t: 1",
        "a: 1\t",
        "\t# a comment\na: 1",
        "a: 1\n\t\n",
        "a:\t\n  1",
    ],
)
def test_tabs_may_stand_where_nothing_is_indented(text):
    """YAML 1.2.2, 6.1 to 6.3: indentation is of spaces, separation of spaces and tabs."""
    assert load(text) == {"a": 1}


def test_tabs_in_text_and_in_brackets():
    assert load("a: b\tc") == {"a": "b\tc"}
    assert load("a: [1,\t2,\n\t3\t]") == {"a": [1, 2, 3]}


def test_lines_are_counted_as_editors_do():
    """YAML 1.2.2, 5.4: only line feed and carriage return break a line."""
    assert message("a: 1\r\nb: 2\rc: 'x\u2028y'\nd: *x").startswith("look.yaml:4:4: ")
    assert load("a: 'x\u2028y'") == {"a": "x\u2028y"}


def test_aliases_cannot_blow_up():
    rows = ["a0: &a0 [1, 1, 1, 1, 1, 1, 1, 1, 1]"]
    rows += [f"a{i}: &a{i} [{', '.join([f'*a{i - 1}'] * 9)}]" for i in range(1, 12)]
    assert "more than 50000 values" in message("\n".join(rows))


SMALL = Limits(size=100, depth=3, values=6, text=20)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("{a: [1, 2, 3, 4]}", None),
        ("{a: [1, 2, 3, 4, 5]}", "f:1:18: more than 6 values"),
        ("{a: &a [1, 2], b: *a}", "f:1:19: more than 6 values"),
        ("{a: &a 1, b: [*a, *a]}", None),
        ("{a: abcdefghij, b: abcdefgh}", None),
        ("{a: abcdefghij, b: abcdefghi}", "f:1:20: more than 20 characters of text"),
        ("{a: &a abcdefghij, b: *a}", "f:1:23: more than 20 characters of text"),
        ("{a: &a abcdef, *a : *a}", None),
        ("{a: &a abcdefg, *a : *a}", "f:1:22: more than 20 characters of text"),
        ("{a: [b]}", None),
        ("{a: [[b]]}", "f:1:7: nested more than 3 levels deep"),
        ("{a: &a [b], c: [*a]}", "f:1:17: nested more than 3 levels deep"),
    ],
)
def test_limits_count_what_aliases_come_to(text, expected):
    def read():
        return load_yaml(text, "f", limits=SMALL)

    if expected is None:
        check_limits(read()[0], "f", limits=SMALL)
        return
    with pytest.raises(RecipeError) as caught:
        read()
    assert str(caught.value).startswith(expected)
    with pytest.raises(RecipeError, match="too large"):
        check_limits(load_yaml(text, "f")[0], "f", limits=SMALL)


def test_a_long_text_used_often_is_refused_at_once():
    text = f"a: &a {'x' * 900_000}\nb: [{'*a, ' * 30_000}]"
    assert message(text).startswith("look.yaml:2:5: more than 1048576 characters of text")


def test_absurdly_long_number_is_refused():
    assert "write a plain value" in message("a: " + "9" * 5000)


def test_error_type_is_the_callers():
    with pytest.raises(SidecarError, match="f:1:4"):
        load_yaml("a: *x", "f", error=SidecarError)


def test_read_text(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_bytes(b"\xef\xbb\xbfa: 1")
    assert read_text(path) == "a: 1"


@pytest.mark.parametrize(
    ("content", "expected"),
    [
        (b"a: 1\nb: \xff", ":2:4: this is not UTF-8 text; save the file as UTF-8"),
        (b"#" * (RECIPE.size + 1), ": the file is too large; allowed: up to 1048576 bytes"),
        (None, ": there is no such file; check the path"),
    ],
)
def test_unreadable_files(tmp_path, content, expected):
    path = tmp_path / "a.yaml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(RecipeError) as caught:
        read_text(path)
    assert str(caught.value) == f"{path}{expected}"


def test_only_regular_files_are_read(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path, tmp_path / "pipe", "/dev/zero", "a\0b", "a" * 300):
        with pytest.raises(RecipeError, match="cannot be read"):
            read_text(path)


plain = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-(10**30), 10**30)
    | st.floats(allow_nan=False)
    | st.text(st.characters(exclude_categories=["C"]))
    | st.sampled_from(["0o17", "1e3", "on", "~", "010", "1:30", ".inf", "=", "<<", "null", "-"]),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.text(st.characters(exclude_categories=["C"])), inner, max_size=4)
    ),
    max_leaves=12,
)


@pytest.mark.parametrize("odd", ["\x85", "\u2028", "\u2029", "\r", "\0", "\ufeff", "\U0010ffff"])
def test_odd_characters_are_read_back(odd):
    for text in (odd, f"a{odd}b", f"{odd}'b ", f"a {odd}\n", f"a{odd}: #" * 30):
        data = {"a": {text: [text]}}
        assert load(dump_yaml(data)) == data


def test_a_sidecar_may_be_larger_than_a_recipe(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("a: 1 #" + "#" * RECIPE.size)
    assert len(read_text(path, SidecarError, limits=SIDECAR)) > RECIPE.size
    with pytest.raises(RecipeError, match="too large"):
        read_text(path)


@given(plain)
def test_dumped_data_reads_back_exactly(data):
    read = load(dump_yaml({"data": data}))["data"]
    assert read == data
    assert repr(read) == repr(data)
