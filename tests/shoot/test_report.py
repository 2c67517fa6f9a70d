"""What a run did: as data, as a page, in groups, also after a stop."""

import json
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from click.testing import CliRunner

from grading import cli
from grading.files.sidecar import read_sidecar
from grading.pages.report import report_page
from grading.shoot import batch
from pages.html_checks import Parts, assert_whole_in_itself


@pytest.fixture
def run(tmp_path, monkeypatch, make_original, recipe_file):
    monkeypatch.chdir(tmp_path)
    for i in range(3):
        make_original(Path(f"in/{i}.png"), seed=i)
    Path("in/<b>torn.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


RENDER = ("render", "look.yaml", "in", "--out", "out")


def by_name(document):
    return {Path(frame["original"]).name: frame for frame in document["frames"]}


def test_all_that_was_done(run):
    assert run("render", "look.yaml", "in/2.png", "--out", "out").exit_code == 0
    done = run(*RENDER, "--keep", "--report", "new/report.json")
    assert done.exit_code == 1
    document = json.loads(Path("new/report.json").read_text())
    size = sum(Path(f"out/{i}.jpg").stat().st_size for i in range(2))
    assert document["outputs"] == {
        "wanted": 4, "kept": 1, "rendered": 2, "failed": 1, "not begun": 0, "bytes": size,
    }  # fmt: skip
    assert (document["source"], document["end"]) == ("look.yaml", "went through")
    frames = by_name(document)
    assert [frames[name]["state"] for name in ("0.png", "1.png", "2.png", "<b>torn.png")] == [
        "rendered", "rendered", "kept", "failed",
    ]  # fmt: skip
    (output,) = frames["0.png"]["outputs"]
    assert (output["path"], output["width"], output["height"]) == ("out/0.jpg", 96, 64)
    assert output["bytes"] == Path("out/0.jpg").stat().st_size
    assert set(output["clipping"]) == {"black", "white", "outside"}
    assert all(seconds >= 0 for seconds in frames["0.png"]["seconds"].values())
    assert frames["2.png"]["kept"] == ["out/2.jpg"] and not frames["2.png"]["outputs"]
    assert frames["<b>torn.png"]["error"] in done.stderr
    assert "the file carries no colour profile; sRGB is assumed" in frames["0.png"]["notes"]


def test_spots_that_stay_are_in_the_report_and_the_sidecar(run):
    look = Path("look.yaml").read_text()
    Path("spotty.yaml").write_text(f"{look}spots:\n  places: [{{at: [0.5, 0.5], radius: 0.05}}]\n")
    y, x = np.mgrid[0:220, 0:320]
    spire = np.where(np.abs(x - 160) < (y - 95) / 3, 40, 190).astype(np.uint8)
    imagecodecs.imwrite("spire.png", np.dstack(3 * [spire]))
    done = run("render", "spotty.yaml", "spire.png", "--out", "out", "--report", "report.json")
    assert done.exit_code == 0, done.stderr
    (frame,) = json.loads(Path("report.json").read_text())["frames"]
    assert any("stay as they are, at [0.5, 0.5]" in note for note in frame["notes"])
    assert "stay as they are, at [0.5, 0.5]" in done.stderr
    assert read_sidecar("out/spire.jpg.yaml").measured["spots_left"] == [[0.5, 0.5]]
    assert run("redo", "out/spire.jpg.yaml", "--out", "again").exit_code == 0


def test_the_page_says_the_same_and_no_name_can_break_it(run):
    assert run(*RENDER, "--report", "report.html").exit_code == 1
    data = Path("report.html").read_bytes()
    assert_whole_in_itself(data)
    parts = Parts(data.decode())
    assert "b" not in parts.tags and "<b>torn.png" in parts.text
    assert "3 of 4 files made" in parts.text and "1 failed" in parts.text
    assert "the file carries no colour profile; sRGB is assumed" in parts.text


def test_a_stop_is_reported_with_what_was_done_so_far(run, monkeypatch):
    overlap = batch.overlap

    def stopped(*arguments):
        outcomes = overlap(*arguments)
        yield next(outcomes)
        outcomes.close()
        raise KeyboardInterrupt

    monkeypatch.setattr(batch, "overlap", stopped)
    assert run(*RENDER, "--report", "report.json").exit_code == 130
    document = json.loads(Path("report.json").read_text())
    assert document["end"] == "was stopped"
    assert document["outputs"]["rendered"] == 1 and document["outputs"]["not begun"] == 3
    assert [frame["state"] for frame in document["frames"]].count("not begun") == 3
    assert b"was stopped" in report_page(document)


@pytest.mark.parametrize(
    ("name", "words"),
    [("r.txt", "a report ending in .txt; allowed: .html, .json"), ("r.json", "exists already")],
)
def test_a_report_that_cannot_be_written_is_refused_before_any_work(run, name, words):
    Path("r.json").write_text("mine")
    refused = run(*RENDER, "--report", name)
    assert refused.exit_code == 2 and words in refused.stderr
    assert not Path("out").exists() and Path("r.json").read_text() == "mine"


def test_a_note_on_many_frames_is_said_once(run):
    said = run(*RENDER).stderr
    assert said.count("sRGB is assumed") == 1
    assert "note on 3 frames: the file carries no colour profile; sRGB is assumed (0.png, " in said


def test_a_file_that_fails_under_every_look_is_said_once(run):
    Path("card").mkdir()
    Path("card/empty.png").write_bytes(b"")
    Path("evening.yaml").write_text(
        "shoot: 1\noriginals: card\nlooks: [evenlight, salt-noon]\n"
        "deliveries: {web: {folder: web, name: '{stem}-{look}'}}\n"
    )
    failed = run("render", "evening.yaml")
    assert failed.exit_code == 1 and failed.stderr.count("an empty file") == 1
    assert "0 of 2 rendered" in failed.stderr and "2 failed" in failed.stderr


def test_levels_are_in_the_report_of_a_shoot(run, tmp_path):
    demo = Path(__file__).parents[2] / "demo_images"
    Path("evening.yaml").write_text(
        f"shoot: 1\noriginals: '{demo}/harbour_0[3-6].dng'\nlooks: [evenlight]\nlevel: {{}}\n"
        "deliveries: {web: {folder: web, long_edge: 64}}\n"
    )
    done = run("render", "evening.yaml", "--report", "report.json")
    assert done.exit_code == 0, done.stderr
    document = json.loads(Path("report.json").read_text())
    levels = {name: frame["level"] for name, frame in by_name(document).items()}
    assert len(levels) == 4 and all(level["kelvin"] for level in levels.values())
    assert any(level["stops"] for level in levels.values())
    (remark,) = [text for text in levels["harbour_05.dng"]["remarks"] if "beyond repair" in text]
    assert f"note: {remark}" in done.stderr
    assert remark in report_page(document).decode()
