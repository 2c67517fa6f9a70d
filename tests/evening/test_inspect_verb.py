"""The verb: table, JSON, page, and the marks that it proposes."""

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
import yaml
from click.testing import CliRunner
from PIL import Image

import make_demo
from grading.cli import main

DEMO = Path(make_demo.__file__).parent


def run(*arguments):
    return CliRunner().invoke(main, ["inspect", *map(str, arguments)])


@pytest.fixture(scope="module")
def card(tmp_path_factory):
    folder = tmp_path_factory.mktemp("card")
    for number in (1, 5, 6):
        shutil.copy(DEMO / f"harbour_{number:02}.dng", folder)
    return folder


@pytest.fixture(scope="module")
def document(card):
    result = run(card, "--json")
    assert result.exit_code == 0
    return json.loads(result.stdout)


def test_json_has_every_frame_with_its_measures(document):
    frames = {frame["name"]: frame for frame in document["frames"]}
    assert list(frames) == ["harbour_01", "harbour_05", "harbour_06"]
    shaken = frames["harbour_06"]
    assert [verdict["word"] for verdict in shaken["verdicts"]] == ["shaken"]
    assert shaken["blurred_by"]["angle_degrees"] == pytest.approx(160.7, abs=5)
    assert shaken["blurred_by"]["pixels"] == pytest.approx(15.9, rel=0.15)
    assert shaken["lean"] is None
    assert [v["word"] for v in frames["harbour_05"]["verdicts"]] == ["overexposed"]
    assert frames["harbour_01"]["verdicts"] == []
    assert frames["harbour_01"]["sun"]["phase"] == "day"


def test_the_scene_has_about_the_luminance_that_was_simulated(document):
    """The truth is the ambient light's; a scene gives back some 40 to 60 % of it, lamps more."""
    truth = yaml.safe_load((DEMO / "harbour_truth.yaml").read_text())
    ambient = {each["file"][:-4]: each["ambient_luminance"] for each in truth}
    for frame in document["frames"]:
        assert 0.3 < frame["scene_luminance_cd_m2"] / ambient[frame["name"]] < 0.7


def test_the_table_says_each_frame_and_why(card):
    result = run(card)
    assert result.exit_code == 0
    assert "shaken: moved by" in result.stdout and "harbour_01" in result.stdout


def test_one_frame_says_its_lean_as_recipe_text():
    result = run(DEMO / "harbour_05.dng")
    assert "framing: {straighten: -0." in result.stdout


def test_the_page_stands_by_itself_and_is_never_replaced_unasked(card, tmp_path):
    page = tmp_path / "set.html"
    assert run(card, "--out", page).exit_code == 0
    text = page.read_text()
    assert "harbour_06" in text and "http:" not in text and "https:" not in text
    assert text.count("data:image/jpeg") == 3 + 2, "each frame, and those that something is against"
    again = run(card, "--out", page)
    assert again.exit_code == 2 and "exists already" in again.output
    assert run(card, "--out", page, "--overwrite").exit_code == 0


def test_proposals_are_written_and_what_a_person_stated_stays(card, tmp_path):
    marks = tmp_path / "marks.yaml"
    marks.write_text("marks: 1\nframes:\n  harbour_06: {mark: 5}\n")
    result = run(card, "--write", marks)
    assert result.exit_code == 0
    frames = yaml.safe_load(marks.read_text())["frames"]
    assert frames["harbour_06"] == {"mark": 5}
    assert frames["harbour_05"]["proposed"] and frames["harbour_05"]["mark"] == 1
    assert "1 stay" in result.output


def test_a_frame_that_cannot_be_opened_is_said_and_the_others_are_measured(card, tmp_path):
    shutil.copy(card / "harbour_01.dng", tmp_path)
    (tmp_path / "broken.dng").write_bytes(b"II*\0 no raw")
    result = run(tmp_path)
    assert result.exit_code == 1
    assert "broken" in result.stdout and "harbour_01" in result.stdout


def test_without_place_or_zone_it_says_so_and_takes_both(tmp_path):
    picture = tmp_path / "a.png"
    codes = np.random.default_rng(1).integers(60, 200, (200, 300, 3), np.uint8)
    Image.fromarray(codes).save(picture)
    assert "state --at and --zone" in run(picture).stdout
    assert run(picture, "--at", "49.2,-12.4", "--zone", "+01:00").exit_code == 0


@pytest.mark.parametrize(
    "options", [("--at", "91,0"), ("--at", "north"), ("--zone", "Nowhere/No"), ("--zone", "+99")]
)
def test_places_and_zones_that_are_none_are_refused(card, options):
    assert run(card, *options).exit_code == 2
