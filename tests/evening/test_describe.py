"""What a shoot file can state and does state, and the one that a person starts from."""

import json

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from grading.cli import main
from grading.evening.begin import begin_shoot
from grading.evening.captured import in_order_of_capture
from grading.evening.describe import explain_shoot, schema_text, summarise_shoot
from grading.evening.load import load_shoot
from grading.evening.names import check_pattern, filled
from grading.recipe.inheritance import looks_folder
from grading.recipe.load import load_recipe

DELIVERIES = "{w: {folder: w}}"


def test_the_committed_schema_is_up_to_date():
    path = looks_folder() / "shoot.schema.json"
    remedy = f"run: grading schema --of shoot --overwrite {path}"
    assert path.read_text("utf-8") == schema_text(), remedy
    jsonschema.Draft202012Validator.check_schema(json.loads(schema_text()))


@pytest.mark.parametrize(
    ("frames", "legal"),
    [
        ("{F1: {mark: 5, exposure: {stops: 1}, lift: null}}", True),
        ("{F1: null}", True),
        ("{F1: {local: {sky: {exposure: {stops: 1}}}}}", True),
        ("{F1: {exposure: {stops: 99}}}", False),
        ("{F1: {mark: 9}}", False),
    ],
)
def test_an_editor_is_told_what_a_note_may_hold(frames, legal):
    text = f"{{shoot: 1, originals: [a], looks: [b], deliveries: {DELIVERIES}, frames: {frames}}}"
    found = jsonschema.Draft202012Validator(json.loads(schema_text())).is_valid(
        yaml.safe_load(text)
    )
    assert found is legal


def test_explain_has_every_key_of_its_own_and_no_python():
    text = explain_shoot()
    for key in ("originals:", "courses.NAME.at:", "groups.NAME.frames:", "frames.NAME.mark: 1 to 5",
                "level.keep_fall: 0 to 1", "deliveries.NAME.format: jpeg or tiff"):  # fmt: skip
        assert key in text
    assert "{}" not in text and "None" not in text


def test_check_says_what_a_shoot_means(card, shoot):
    card(4)
    evening = shoot(
        "title: At sea\ncredits: {creator: Zoë}\ncourses: {exposure.stops: {at: {F1: 0, F4: 1}}}\n"
        "groups: {bow: {frames: [F2, F3]}}\n"
        "frames: {F2: {mark: 4, lift: {shadows: 1}}, F3: {leave_out: true}}\n",
        deliveries="{web: {folder: web, long_edge: 800}, best: {folder: b, marks: [4]},"
        " box: {folder: c, box: [90, 60], format: avif}}",
    )
    lines = summarise_shoot(evening).splitlines()
    assert lines[0].startswith("At sea (")
    assert lines[1:] == [
        "  4 frames, 1 left out; looks: evenlight",
        "  Course exposure.stops: 0, 0.2593, 1",
        "  Group bow: F2, F3",
        "  Frame F2: {mark: 4, lift: {shadows: 1}}",
        "  Frame F3: {leave_out: true}",
        "  Credits: {creator: Zoë}",
        "  Delivery web: 3 files into web, jpeg, srgb, long edge 800 pixels",
        "  Delivery best: 1 files into b, jpeg, srgb",
        "  Delivery box: 3 files into c, avif, srgb, within 90 x 60 pixels",
    ]


def test_what_is_begun_can_be_loaded_as_it_is_and_with_all_that_it_suggests(card, tmp_path):
    folder = card(3)
    (folder / "F2.dng").rename(folder / "0 2: x.dng")
    frames = in_order_of_capture(sorted(folder.iterdir()))
    path = tmp_path / "evening.yaml"
    text = begin_shoot(path, [str(folder)], frames)
    path.write_text(text)
    (tmp_path / "evening.marks.yaml").write_text("marks: 1\n")
    evening = load_shoot(path)
    assert [frame.name for frame in evening.frames] == ["F1", "0 2: x", "F3"]
    assert list(evening.noted.values()) == ["F1", "0 2: x", "F3"]
    assert "19:06:00  1/60 s  f/8  ISO 200  35 mm" in text
    blocks = [block for block in text.split("\n\n") if "\n#\n# " in block and "courses" in block]
    blocks += [block for block in text.split("\n\n") if "# groups:" in block]
    suggested = "\n".join(
        line[2:]
        for block in blocks
        for line in block.splitlines()
        if line.startswith(("# c", "# g", "#  "))
    )
    path.write_text(text + suggested + "\n")
    assert len(load_shoot(path).courses) == 1 and len(load_shoot(path).groups) == 1


def test_keys_that_recipes_have_too_are_explained_where_they_are_the_shoots_own():
    text = explain_shoot()
    assert "\nlevel.exposure: 0 to 1" in text and "\nspots: text" in text
    assert "frames.NAME.exposure" not in text


def test_a_topic_of_shoot_files_is_explained_alone():
    told = CliRunner().invoke(main, ["explain", "level"])
    assert told.exit_code == 0 and told.stdout.count("\n\n") == 5
    assert all(block.startswith("level.") for block in told.stdout.split("\n\n"))


def test_a_shoot_file_is_never_replaced(card, tmp_path, monkeypatch):
    card(2)
    monkeypatch.chdir(tmp_path)
    first = CliRunner().invoke(main, ["shoot", "new", "card", "--out", "e.yaml"])
    assert first.exit_code == 0 and "e.yaml: 2 frames" in first.stdout
    assert load_shoot(tmp_path / "e.yaml").marks.entries == {}
    (tmp_path / "e.marks.yaml").write_text("marks: 1\nframes: {F1: {mark: 3}}\n")
    (tmp_path / "e.yaml").unlink()
    assert CliRunner().invoke(main, ["shoot", "new", "card", "--out", "e.yaml"]).exit_code == 0
    assert load_shoot(tmp_path / "e.yaml").marks.entries["F1"].mark == 3
    (tmp_path / "e.yaml").write_text("mine")
    second = CliRunner().invoke(main, ["shoot", "new", "card", "--out", "e.yaml"])
    assert second.exit_code == 2 and (tmp_path / "e.yaml").read_text() == "mine"


def test_names_of_outputs():
    facts = {"stem": "a{b}", "number": 7, "look": "l", "mark": None}
    assert filled(check_pattern("{number:03} {stem}-{look}"), facts) == "007 a{b}-l"
    for pattern in ("{x}", "{stem.real}", "{stem!r}", "{number:x}", "{stem:9}", "{", "{0}", "{}"):
        with pytest.raises(ValueError, match="allowed: text with"):
            check_pattern(pattern)
    with pytest.raises(KeyError):
        filled("{mark}", facts)


def test_sources_of_a_plain_recipe_are_its_own_file(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("grading: 1\nextends: evenlight\nexposure: {stops: 1}\n")
    found = load_recipe(path).sources
    assert found["exposure.stops"] == "a.yaml:3" and found["tone_curve.toe"] == "evenlight.yaml:19"
    assert "extends" not in found and "title" not in found
