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


def names(*arguments, **settings):
    return [path.name for path in find_originals(arguments, **settings)[0]]


def test_a_folder_is_the_originals_directly_in_it_in_natural_order(shoot):
    assert names(shoot) == ["f1.jpg", "F9.DNG", "f10.dng"]


def test_digits_that_are_no_numbers_are_letters(tmp_path):
    for name in ("a1²2.jpg", "a1²10.jpg", "a\u0663.jpg", "a2.jpg"):
        (tmp_path / name).write_bytes(b"x")
    assert names(tmp_path) == ["a1²2.jpg", "a1²10.jpg", "a2.jpg", "a\u0663.jpg"]


def test_a_pattern_reaches_deeper(shoot):
    assert names(f"{shoot}/**/*.dng") == ["f2.dng", "F9.DNG", "f10.dng"]


def test_the_case_of_an_ending_does_not_matter(shoot):
    assert names(f"{shoot}/*.dng") == ["F9.DNG", "f10.dng"] == names(f"{shoot}/*.DnG")
    assert names(f"{shoot}/*.[dD]NG") == ["F9.DNG"]


@pytest.fixture
def card(tmp_path):
    """Two exposures as raw and JPEG, one of each alone, and an export that shares a name."""
    for name in ("a1.DNG", "A1.JPG", "a2.dng", "a2.jpeg", "a3.dng", "a4.jpg", "a3.tif"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "a3.jpg").write_bytes(b"x")
    return tmp_path


@pytest.mark.parametrize("how", ["folder", "pattern", "files"])
def test_a_pair_counts_once(card, how):
    arguments = {
        "folder": [card],
        "pattern": [f"{card}/*"],
        "files": [path for path in card.iterdir() if path.is_file()],
    }[how]
    assert names(*arguments) == ["a1.DNG", "a2.dng", "a3.dng", "a3.tif", "a4.jpg"]
    assert find_originals(arguments)[1] == [
        "2 JPEGs left out, each of one exposure with a raw file"
    ]
    assert names(*arguments, pairs="jpeg") == ["A1.JPG", "a2.jpeg", "a3.dng", "a3.tif", "a4.jpg"]
    assert find_originals(arguments, "jpeg")[1] == [
        "2 raw files left out, each of one exposure with a JPEG"
    ]
    assert len(names(*arguments, pairs="both")) == 7
    assert find_originals(arguments, "both")[1] == []


def test_files_of_other_folders_are_no_pair(card):
    assert "a3.jpg" in names(card, card / "other")


def test_jpegs_asked_for_alone_are_taken(card):
    assert names(f"{card}/*.jpg") == ["A1.JPG", "a4.jpg"]


def test_outputs_of_earlier_runs_are_no_originals(shoot, earlier):
    for name in ("f9.jpg", "f10.jpg", "f11.tif"):
        earlier(shoot / name)
    (shoot / "f1.jpg.yaml").write_text("not: a sidecar")
    for argument in (shoot, f"{shoot}/*"):
        paths, notes = find_originals([argument, argument])
        assert [path.name for path in paths] == ["f1.jpg", "F9.DNG", "f10.dng"]
        assert notes == ["3 outputs of earlier runs left out"]
    assert names(shoot / "f9.jpg") == ["f9.jpg"]
    with pytest.raises(OriginalError, match="all pictures here are outputs of earlier runs"):
        find_originals([f"{shoot}/*.tif"])


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
