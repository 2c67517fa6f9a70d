"""`grading sheet evening.yaml`: frames as the shoot settles them."""

import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from evening.conftest import card, shoot  # noqa: F401
from grading.cli import main
from grading.pages import letters
from grading.pages.evening import sheet_entries
from pages.html_checks import assert_whole_in_itself

TEXT = """
title: Five <minutes>
level: {exposure: 1}
courses: {lift.shadows: {at: {F1: 0.2, F4: 0.8}}}
frames:
  F2: {mark: 4, caption: "The pilot & his boat", exposure: {stops: -1}}
  F3: {leave_out: true}
"""


@pytest.fixture
def evening(card, shoot, tmp_path, monkeypatch):  # noqa: F811
    card()
    monkeypatch.chdir(tmp_path)
    return shoot(TEXT, looks="[evenlight, harbour-dusk]")


def run(*arguments):
    return CliRunner().invoke(main, ["sheet", *map(str, arguments)])


def test_the_sheet_shows_what_the_shoot_settles(evening):
    result = run(evening.path, "--out", "s.html")
    assert result.exit_code == 0, result.output
    assert result.stderr.endswith("3 of 3 frames on s.html\n")
    parts = assert_whole_in_itself(Path("s.html").read_bytes())
    for text in ("Five <minutes>", "F2.dng", "Mark 4", "The pilot & his boat", "harbour-dusk"):
        assert text in parts.text
    assert "F3.dng" not in parts.text
    assert len(re.findall(r"level\s[+-]?\d\.\d\d\sstops", parts.text)) == 3
    assert len(re.findall(r"white\s\d+\sto\s\d+\sK", parts.text)) == 3
    views = sorted(path.name for path in Path("s-pictures").iterdir())
    assert views == [f"00{n}-{look}.jpg" for n in (1, 2, 3) for look in (1, 2)]


def test_notes_reach_the_pictures(evening):
    entries = sheet_entries(evening)
    assert [entry.path.stem for entry in entries] == ["F1", "F2", "F4"]
    look = evening.looks["evenlight"].checked().stages["exposure"].stops
    stops = [entry.recipes[0].stages["exposure"].stops for entry in entries]
    assert stops == [look, -1, look] and look != -1
    shadows = [entry.recipes[1].stages["lift"].shadows for entry in entries]
    assert shadows[0] == 0.2 and shadows[2] == 0.8
    assert run(evening.path, "--out", "a.html").exit_code == 0
    evening.path.write_text(evening.path.read_text().replace("stops: -1", "stops: 1"))
    assert run(evening.path, "--out", "b.html").exit_code == 0
    dark, light = (
        np.asarray(Image.open(f"{name}-pictures/002-1.jpg")).mean() for name in ("a", "b")
    )
    assert light > dark + 20


def test_a_sheet_replaces_nothing_unless_asked(evening):
    Path("s-pictures").mkdir()
    result = run(evening.path, "--out", "s.html")
    assert result.exit_code == 2
    assert "s-pictures: exists already" in result.stderr
    assert not Path("s.html").exists() and not list(Path("s-pictures").iterdir())
    assert run(evening.path, "--out", "s.html", "--overwrite").exit_code == 0
    assert run(evening.path, "--out", "s.pdf").exit_code == 0
    assert Path("s.pdf").read_bytes().startswith(b"%PDF")


@pytest.mark.parametrize(
    ("more", "said"),
    [
        (["--look", "evenlight"], "states this itself: --look"),
        (["--pairs", "both"], "states this itself: --pairs"),
        (["card"], "states this itself: ORIGINAL"),
    ],
)
def test_what_a_shoot_states_itself_is_refused(evening, more, said):
    result = run(evening.path, *more, "--out", "s.html")
    assert result.exit_code == 2 and said in result.stderr
    assert not Path("s.html").exists()


def test_originals_need_a_look(evening):
    result = run("card", "--out", "s.html")
    assert result.exit_code == 2 and "Missing option '--look'" in result.stderr


def test_a_wrong_note_is_reported_at_its_place(evening):
    evening.path.write_text(evening.path.read_text().replace("stops: -1", "stops: -100"))
    result = run(evening.path, "--out", "s.html")
    assert result.exit_code == 2 and re.search(r"evening.yaml:\d+:\d+: exposure", result.stderr)


def test_letters_that_no_font_has_are_reported(evening, monkeypatch):
    evening.path.write_text(evening.path.read_text().replace("pilot", "ξεν", 1))
    monkeypatch.setattr(letters, "fonts", lambda: ())
    letters.font_for.cache_clear()
    result = run(evening.path, "--out", "s.pdf")
    letters.font_for.cache_clear()
    assert result.exit_code == 0
    assert "printed as code points, for no font of this machine has them: ενξ" in result.stderr
