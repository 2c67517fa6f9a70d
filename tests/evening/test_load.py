"""Shoot files: what they mean, and what is wrong with them, with its place."""

import os

import pytest

from grading.errors import OriginalError, RecipeError
from grading.evening.kind import is_shoot
from grading.evening.load import load_shoot

HEAD = "shoot: 1\noriginals: card\nlooks: [evenlight]\ndeliveries: {web: {folder: web}}\n"


def test_frames_are_in_order_of_capture_whatever_their_names(card, shoot):
    folder = card(3)
    os.rename(folder / "F1.dng", folder / "Z.dng")
    evening = shoot()
    assert [(frame.number, frame.name) for frame in evening.frames] == [
        (1, "Z"), (2, "F2"), (3, "F3"),
    ]  # fmt: skip


def test_a_frame_that_does_not_say_its_time_follows_the_one_before_by_name(card, shoot):
    folder = card(4)
    os.rename(folder / "F2.dng", folder / "Z.dng")
    (folder / "F1_broken.dng").write_bytes(b"")
    evening = shoot()
    assert [frame.name for frame in evening.frames] == ["F1", "F1_broken", "Z", "F3", "F4"]
    assert [frame.number for frame in evening.frames] == [1, 2, 3, 4, 5]
    assert evening.frames[1].time is None and evening.frames[1].moment == evening.frames[0].time
    assert evening.remarks == [
        "no time is stated in F1_broken.dng: placed by name, and not levelled"
    ]
    assert shoot("frames: {F1_broken: {leave_out: true}}").remarks == []


def test_the_first_frame_without_a_time_is_placed_by_the_next(card, shoot):
    folder = card(2)
    (folder / "A.dng").write_bytes(b"")
    frames = shoot().frames
    assert [frame.name for frame in frames] == ["A", "F1", "F2"]
    assert frames[0].moment == frames[1].time


def test_where_no_frame_says_its_time_names_decide(card, shoot):
    card(3, timed=False)
    evening = shoot()
    assert [(frame.name, frame.moment) for frame in evening.frames] == [
        ("F1", None), ("F2", None), ("F3", None),
    ]  # fmt: skip
    assert evening.remarks == []


def test_of_two_files_with_one_stem_the_ending_is_part_of_the_name(card, shoot):
    folder = card(1)
    card(1, suffix=".tif")
    evening = shoot("frames: {F1.tif: {mark: 3}}")
    assert sorted(frame.name for frame in evening.frames) == ["F1.dng", "F1.tif"]
    assert {frame.path: evening.note(frame).mark for frame in evening.frames} == {
        folder / "F1.dng": None,
        folder / "F1.tif": 3,
    }


def test_what_is_empty_says_nothing(card, shoot):
    card(2)
    evening = shoot("title:\ngroups:\nframes:\n  F1:  # a comment\n  F2: {leave_out: true}\n")
    assert [frame.name for frame in evening.rendered] == ["F1"]


def test_groups_take_names_patterns_and_runs(card, shoot):
    card(9)
    evening = shoot("groups:\n  g: {frames: [F1, 'F[23]', [F8, F6]]}\n")
    assert evening.groups == {"g": {"F1", "F2", "F3", "F6", "F7", "F8"}}


def test_originals_are_relative_to_the_file(card, shoot, monkeypatch):
    folder = card(1)
    monkeypatch.chdir("/")
    assert shoot().frames[0].path == folder / "F1.dng"
    assert len(shoot(card="[card/*.DNG, card/F1.dng]").frames) == 1


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("frames: {F9: {mark: 1}}", "5:10: there is no frame F9 among the originals; "),
        ("frames: {F1: {mark: 6}}", "frames.F1.mark = 6: more than 5; allowed: 1 to 5"),
        ("frames: {F1: {note: x}}", "5:15: frames.F1.note: unknown key; allowed: spots, lens,"),
        ("frames: {F1: {mark: 1}, F1.dng: {mark: 2}}", "frames: F1.dng and F1 are the same frame"),
        ("frames: {F1: {leave_out: yes}}", "leave_out = yes: neither true nor false; allowed: true "
         "or false; write true"),
        ("frames: {F1: {straighten: 2}}", "; it belongs below framing, indented"),
        ("groups: {g: {frames: [X*]}}", "5:23: there is no frame X* among the originals"),
        ("groups: {g: {frames: [[F1]]}}", ": not text; allowed: text, or two names [first, last]"),
        ("groups: {g: {mark: 1}}", "groups.g.frames is missing"),
        ("frames: {F1: {looks: {ember: {}}}}", "5:30: frames.F1: this shoot has no look ember"),
        ("courses: {exposure.stops: {at: {F9: 1}}}", "5:37: there is no frame F9"),
        ("courses: {exposure.stop: {at: {F1: 1}}}", "did you mean exposure.stops?"),
        ("courses: {expo: {at: {F1: 1}}}", "there is no key expo in a recipe"),
        ("courses: {tone_curve.points: {at: {F1: 1}}}", "a key whose value is a number;"),
        ("courses: {exposure.stops: {at: {'25:00': 1}}}", "25:00: no time of the clock"),
        ("courses: {exposure.stops: {by: light, at: {'19:00': 2}}}", "there is no frame 19:00"),
        ("courses: {exposure.stops: {}}", "courses.exposure.stops.at is missing"),
        ("level: {reference: F9}", "5:20: there is no frame F9"),
        ("level: {keep_fall: 2}", "level.keep_fall = 2: more than 1; allowed: 0 to 1"),
        ("extra: 1", "5:1: extra: unknown key; allowed: shoot, title, originals"),
    ],
)
def test_what_is_wrong_is_reported_with_its_place(card, shoot, tmp_path, text, message):
    card(2)
    with pytest.raises(RecipeError) as caught:
        shoot(text)
    assert str(caught.value).startswith(f"{tmp_path / 'evening.yaml'}:5:")
    assert message in str(caught.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "this is no shoot file"),
        ("grading: 1", "begin with shoot: 1"),
        ("shoot: 2\n" + HEAD[9:], "shoot = 2"),
        (HEAD.replace("looks: [evenlight]\n", ""), "looks is missing"),
        (HEAD.replace("evenlight", "evenlite"), ":3:9: there is no look named evenlite; allowed"),
        (HEAD.replace("[evenlight]", "[evenlight, evenlight]"), "a second look of the name"),
        (HEAD.replace("[evenlight]", "[]"), "an empty list"),
        (HEAD.replace("folder: web", "folder: web, format: jpg"), "allowed: jpeg or tiff"),
        (HEAD.replace("folder: web", "folder: web, name: '{stm}'"), "{stm} is no field; allowed:"),
        (HEAD.replace("folder: web", "folder: web, name: '{'"), "a brace stands alone"),
        (HEAD.replace("folder: web", "folder: web, looks: [x]"), "this shoot has no look x"),
    ],
)
def test_what_every_shoot_file_needs(card, tmp_path, text, message):
    card(1)
    path = tmp_path / "e.yaml"
    path.write_text(text)
    with pytest.raises(RecipeError) as caught:
        load_shoot(path)
    assert str(caught.value).startswith(str(path))
    assert message in str(caught.value)


def test_originals_that_are_not_there(shoot):
    with pytest.raises(OriginalError, match=r"evening.yaml:2:12: .*nowhere: there is no such"):
        shoot(card="nowhere")


def test_a_shoot_file_is_told_from_a_recipe(tmp_path):
    for text, expected in ((HEAD, True), ("grading: 1", False), ("[", False), ("x", False)):
        (tmp_path / "f").write_text(text)
        assert is_shoot(tmp_path / "f") is expected
    assert not is_shoot(tmp_path) and not is_shoot("x" * 5000)
