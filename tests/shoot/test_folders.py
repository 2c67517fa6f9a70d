"""Folders as people have them: in and out the same, pairs on a card, what a killed run left."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from grading import cli


@pytest.fixture
def run(tmp_path, monkeypatch, make_original, recipe_file):
    monkeypatch.chdir(tmp_path)
    for i in range(2):
        make_original(Path(f"in/{i}.png"), seed=i)
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


def test_the_same_folder_in_and_out(run):
    command = ("render", "look.yaml", "in", "--out", "in")
    assert run(*command).exit_code == 0
    again = run(*command, "--keep")
    assert again.exit_code == 0
    assert "2 outputs of earlier runs left out" in again.stderr
    assert "nothing to render into in" in again.stderr and "2 kept" in again.stderr
    assert run(*command, "--overwrite").exit_code == 0
    assert "in/0.jpg: exists already" in run(*command).stderr
    assert run("verify", "in").stdout == "2 agree with their sidecars, 0 in trouble\n"


def test_a_card_of_pairs(run, make_original):
    demo = Path(__file__).parents[2] / "demo_images" / "harbour_01.dng"
    Path("card").mkdir()
    Path("card/A_01.DNG").symlink_to(demo)
    make_original(Path("card/A_01.JPG"))
    small = ("--long-edge", "64")
    raw = run("render", "look.yaml", "card", "--out", "raw", *small)
    assert raw.exit_code == 0
    assert "1 JPEG left out, each of one exposure with a raw file" in raw.stderr
    assert [path.name for path in Path("raw").glob("*.jpg")] == ["A_01.jpg"]
    both = run("render", "look.yaml", "card/*.*", "--out", "both", "--pairs", "both", *small)
    assert both.exit_code == 0
    outputs = sorted(path.name for path in Path("both").glob("*.jpg"))
    assert outputs == ["A_01-jpg.jpg", "A_01.jpg"]
    jpeg = run("render", "look.yaml", "card", "--out", "jpeg", "--pairs", "jpeg", *small)
    assert "1 raw file left out" in jpeg.stderr
    assert run("verify", "both").stdout.startswith("2 agree")


def test_what_a_killed_run_left_is_taken_away_though_nothing_is_left_to_make(run):
    command = ("render", "look.yaml", "in", "--out", "out", "--keep")
    assert run(*command).exit_code == 0
    left = Path("out/.grading-0123456789abcdef.part")
    for ways in ([], ["--overwrite"]):
        left.write_bytes(b"half")
        assert run(*command, *ways).exit_code == 0
        assert not left.exists()
    left.write_bytes(b"half")
    assert run("redo", "out").exit_code == 0
    assert not left.exists()
    left.write_bytes(b"half")
    run("diff", "look.yaml", "evenlight", "in/0.png", "--out", "out")
    assert Path("out/0.html").exists() and not left.exists()


def test_a_folder_is_made_again(run):
    assert run("render", "look.yaml", "in", "--out", "out").exit_code == 0
    Path("out/1.jpg").unlink()
    redone = run("redo", "out")
    assert redone.stdout == "out/0.jpg: same bits, there already\nout/1.jpg: same bits, written\n"
    assert run("redo", "in").stderr == "Error: in: no outputs with sidecars are here\n"
    again = run("redo", "out", "--out", "again")
    assert again.exit_code == 0 and len(list(Path("again").iterdir())) == 4


def test_verify_renders_again_what_is_asked_for(run):
    run("render", "look.yaml", "in", "--out", "out")
    assert run("verify", "out", "--redo", "all").stdout.startswith("2 agree")
    assert run("verify", "out", "--redo", "1").exit_code == 0
    refused = run("verify", "out", "--redo", "-1")
    assert refused.exit_code == 2 and "x>=0" in refused.stderr
    assert run("verify", "out", "--redo", "some").exit_code == 2


def test_a_moved_folder_is_reported_once(run):
    run("render", "look.yaml", "in", "--out", "out")
    Path("in").rename("archive")
    result = run("verify", "out")
    assert result.exit_code == 1
    assert len(result.stderr.splitlines()) == 1
    assert "state where originals lie now: --originals FOLDER" in result.stderr
    assert result.stdout == "0 agree with their sidecars, 2 in trouble\n"
    assert run("verify", "out", "--originals", "archive").exit_code == 0


def test_an_original_beyond_the_limit_is_refused_and_the_limit_can_be_raised(run, make_original):
    make_original(Path("in/large.png"), 1200, 900)
    small = run("render", "look.yaml", "in", "--out", "out", "--limit", "1")
    assert small.exit_code == 1 and "2 of 3 rendered" in small.stderr
    assert "large.png: a picture of 1200 x 900 pixels; allowed: up to 1 million" in small.stderr
    assert run("render", "look.yaml", "in", "--out", "out", "--limit", "2", "--keep").exit_code == 0
    Path("out/large.jpg").unlink()
    assert run("redo", "out/large.jpg.yaml", "--limit", "1").exit_code == 1
    assert run("redo", "out/large.jpg.yaml").exit_code == 0
