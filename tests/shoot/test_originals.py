"""Files, folders and patterns to originals."""

import pytest

from grading.errors import OriginalError
from grading.shoot.originals import find_originals


@pytest.fixture
def shoot(tmp_path):
    names = ["f10.dng", "F9.DNG", "f1.jpg", "notes.txt", ".f3.dng", "day/f2.dng", "day/f2.jpg.yaml"]
    for name in names:
        path = tmp_path / name
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")
    return tmp_path


def names(*arguments):
    return [path.name for path in find_originals(arguments)]


def test_a_folder_is_the_originals_directly_in_it_in_natural_order(shoot):
    assert names(shoot) == ["f1.jpg", "F9.DNG", "f10.dng"]


def test_digits_that_are_no_numbers_are_letters(tmp_path):
    for name in ("a1²2.jpg", "a1²10.jpg", "a\u0663.jpg", "a2.jpg"):
        (tmp_path / name).write_bytes(b"x")
    assert names(tmp_path) == ["a1²2.jpg", "a1²10.jpg", "a2.jpg", "a\u0663.jpg"]


def test_a_pattern_reaches_deeper(shoot):
    assert names(f"{shoot}/**/*.dng") == ["f2.dng", "f10.dng"]


def test_a_named_file_is_an_original_whatever_it_ends_in(shoot):
    assert names(shoot / "notes.txt") == ["notes.txt"]


def test_what_is_named_twice_counts_once(shoot):
    assert names(shoot, shoot / "day" / ".." / "f1.jpg", f"{shoot}/f*.dng") == [
        "f1.jpg",
        "F9.DNG",
        "f10.dng",
    ]


def test_of_a_file_and_its_links_the_first_name_counts(tmp_path):
    (tmp_path / "b.dng").write_bytes(b"x")
    for name in ("z.dng", "c.dng"):
        (tmp_path / name).symlink_to(tmp_path / "b.dng")
    assert names(tmp_path) == ["b.dng"]


@pytest.mark.parametrize(
    ("argument", "problem", "remedy"),
    [
        ("nothing.dng", "there is no such file", "check the path"),
        ("x*.dng", "no original matches this pattern", "check the pattern"),
        ("empty", "no originals lie directly in this folder", "quote a pattern such as"),
    ],
)
def test_what_stands_for_nothing(shoot, argument, problem, remedy):
    (shoot / "empty").mkdir()
    with pytest.raises(OriginalError, match=problem) as caught:
        find_originals([shoot / argument])
    assert str(caught.value).startswith(str(shoot / argument))
    assert remedy in str(caught.value)
