"""The marks file: read, merged, written; and what a shoot makes of it."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from grading.errors import OutputError, RecipeError
from grading.evening.load import load_shoot
from grading.evening.marks import (
    Entry,
    Marks,
    MarksChanged,
    load_marks,
    marks_text,
    save_marks,
)
from grading.evening.settle import _overlays


@pytest.fixture
def file(tmp_path):
    return tmp_path / "marks.yaml"


def test_what_is_written_is_read_back(file):
    marks = Marks(file, {}).stating("a", Entry(mark=4))
    marks = marks.stating("b", Entry(framing={"straighten": -1.4}, proposed=True))
    save_marks(marks)
    again = load_marks(file)
    assert again.entries == marks.entries
    assert marks_text(again) == file.read_text()


def test_a_file_that_is_not_there_is_begun(file):
    marks = load_marks(file)
    assert marks.entries == {} and marks.version is None
    assert save_marks(marks).version == load_marks(file).version


def test_proposals_never_replace_what_a_person_stated(file):
    stated = Marks(file, {"a": Entry(mark=5), "b": Entry(mark=1, proposed=True)})
    merged = stated.with_proposals({"a": Entry(mark=1), "b": Entry(mark=2), "c": Entry(mark=1)})
    assert merged.entries == {
        "a": Entry(mark=5),
        "b": Entry(mark=2, proposed=True),
        "c": Entry(mark=1, proposed=True),
    }


def test_proposals_for_other_frames_stay(file):
    before = Marks(file, {"z": Entry(mark=1, proposed=True)})
    assert set(before.with_proposals({"a": Entry(mark=1)}).entries) == {"a", "z"}


def test_a_change_by_another_program_is_noticed_and_nothing_is_lost(file):
    first = save_marks(Marks(file, {"a": Entry(mark=3)}))
    save_marks(load_marks(file).stating("b", Entry(mark=2)))
    with pytest.raises(MarksChanged, match="read them again"):
        save_marks(first.stating("a", Entry(mark=5)))
    assert set(load_marks(file).entries) == {"a", "b"}


def test_a_file_that_appears_meanwhile_is_noticed(file):
    unread = load_marks(file)
    file.write_text("marks: 1\n")
    with pytest.raises(MarksChanged):
        save_marks(unread.stating("a", Entry(mark=5)))


def test_of_many_that_write_at_once_none_is_lost(file):
    save_marks(Marks(file, {}))

    def state(number):
        while True:
            try:
                return save_marks(load_marks(file).stating(f"f{number:02}", Entry(mark=1)))
            except MarksChanged:
                continue

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(state, range(24)))
    assert len(load_marks(file).entries) == 24


def test_a_folder_that_is_not_there_is_an_error_of_ours(tmp_path):
    with pytest.raises(OutputError):
        save_marks(Marks(tmp_path / "none" / "marks.yaml", {}))


@pytest.mark.parametrize(
    "text, said",
    [
        ("title: x\n", "no marks file"),
        ("marks: 2\n", "marks"),
        ("marks: 1\nframes:\n  a: {mark: 9}\n", ":3:13"),
        ("marks: 1\nframes:\n  a: {stars: 3}\n", "stars"),
        ("marks: 1\nframes:\n  a: {framing: {straighten: .nan}}\n", "straighten"),
    ],
)
def test_what_is_wrong_is_said_with_its_place(file, text, said):
    file.write_text(text)
    with pytest.raises(RecipeError, match=said):
        load_marks(file)


@pytest.fixture
def shoot(card):
    """Text of a shoot with marks, and how to load it."""

    def written(marks, notes=""):
        (card / "marks.yaml").write_text(marks)
        (card / "evening.yaml").write_text(
            "shoot: 1\noriginals: '*.dng'\nlooks: [evenlight]\nmarks: marks.yaml\n"
            f"{notes}deliveries: {{web: {{folder: web}}}}\n"
        )
        return load_shoot(card / "evening.yaml")

    return written


@pytest.fixture
def card(tmp_path):
    from pathlib import Path
    from shutil import copy

    import make_demo

    for number in (1, 2):
        name = f"harbour_{number:02}.dng"
        copy(Path(make_demo.__file__).parent / name, tmp_path / name)
    return tmp_path


def test_a_shoot_takes_marks_over_and_its_own_notes_win(shoot):
    marks = "marks: 1\nframes:\n  harbour_01: {mark: 2}\n  harbour_02: {leave_out: true}\n"
    evening = shoot(marks)
    assert evening.note(evening.frames[0]).mark == 2
    assert [frame.name for frame in evening.rendered] == ["harbour_01"]
    evening = shoot(marks, "frames: {harbour_01: {mark: 5}, harbour_02: {leave_out: false}}\n")
    assert evening.note(evening.frames[0]).mark == 5
    assert len(evening.rendered) == 2


def test_framing_lies_over_groups_and_under_the_notes_of_the_frame(shoot):
    evening = shoot(
        "marks: 1\nframes:\n  harbour_01:\n    framing: {straighten: 1.5}\n",
        "groups: {all: {frames: ['*'], exposure: {stops: 1}}}\n"
        "frames: {harbour_01: {exposure: {stops: 2}}}\n",
    )
    layers = list(_overlays(evening, evening.frames[0], "evenlight", None))
    assert [layer for layer, *_ in layers] == ["group all", "marks", "frame harbour_01"]
    _, data, positions = layers[1]
    assert data == {"framing": {"straighten": 1.5}}
    assert str(positions["framing", "straighten"].value).endswith("marks.yaml:4:27")


def test_marks_of_frames_that_are_gone_are_passed_over(shoot):
    assert shoot("marks: 1\nframes:\n  gone: {mark: 2}\n").marked == {}


def test_a_marks_file_that_is_not_there_is_said(shoot, card):
    shoot("marks: 1\n")
    (card / "marks.yaml").unlink()
    with pytest.raises(RecipeError, match="evening.yaml:4:8.*no file marks.yaml"):
        load_shoot(card / "evening.yaml")
