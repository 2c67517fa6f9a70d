"""Pages on disk, and the two verbs that make them."""

import json
import os
import re
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from grading import cli
from grading.pages.publish import page_names


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("a.yaml").write_text("grading: 1\ntitle: A\nexposure: {stops: 0.5}\n")
    Path("same.yaml").write_text("grading: 1\ntitle: Same\nexposure: {stops: 0.5}\n")
    Path("b.yaml").write_text("grading: 1\ntitle: B\nextends: a.yaml\nexposure: {stops: 0.8}\n")
    Path("in").mkdir()
    for i in range(2):
        array = np.random.default_rng(i).integers(30, 200, (20, 30, 3), np.uint8)
        Image.fromarray(array).save(f"in/{i}.png")
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


def test_looks_that_differ_give_status_1_and_a_page_each(run):
    result = run("diff", "a.yaml", "b.yaml", "in", "--out", "out")
    assert result.exit_code == 1, result.output
    assert sorted(path.name for path in Path("out").iterdir()) == ["0.html", "1.html"]
    first, page, *_ = result.stdout.splitlines()
    assert first.startswith("in/0.png: CIEDE2000 ")
    assert first.endswith("most by exposure.stops (100 % alone)")
    assert page.strip() == "out/0.html"
    assert 'href="1.html"' in Path("out/0.html").read_text()


@pytest.mark.skipif(sys.platform != "linux", reason="names of any bytes are allowed on Linux")
def test_names_that_are_no_text_are_shown_and_linked(run):
    os.rename(b"in/1.png", b"in/1\xff.png")
    assert run("diff", "a.yaml", "b.yaml", "in", "--out", "out").exit_code == 1
    assert 'href="1%FF.html"' in Path("out/0.html").read_text()
    assert run("sheet", "in", "--look", "a.yaml", "--out", "s.html").exit_code == 0
    assert r"1\xff.png" in Path("s.html").read_text()


def test_looks_that_are_the_same_give_status_0(run):
    result = run("diff", "a.yaml", "same.yaml", "in")
    assert result.exit_code == 0
    assert result.stdout.splitlines() == [
        "in/0.png: the same in every pixel",
        "in/1.png: the same in every pixel",
    ]


def test_a_difference_too_small_to_see_still_counts(run):
    Path("b.yaml").write_text("grading: 1\nextends: a.yaml\nexposure: {stops: 0.51}\n")
    assert run("diff", "a.yaml", "b.yaml", "in").exit_code == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ("a.yaml", "none.yaml", "in"),
        ("a.yaml", "b.yaml", "none.png"),
        ("a.yaml", "b.yaml", "--out", "out"),
        ("a.yaml",),
    ],
)
def test_trouble_gives_status_2_and_no_traceback(run, arguments):
    result = run("diff", *arguments)
    assert result.exit_code == 2
    assert "Error" in result.stderr and "Traceback" not in result.stderr
    assert not Path("out").exists()


@pytest.fixture
def five(run):
    """Five originals of which the first, the third and the fourth are damaged."""
    for i in range(2, 5):
        Path(f"in/{i}.png").write_bytes(Path("in/1.png").read_bytes())
    for i in (0, 2, 3):
        Path(f"in/{i}.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    return run


def test_a_frame_that_fails_does_not_stop_the_others(five):
    result = five("diff", "a.yaml", "b.yaml", "in", "--out", "out")
    assert result.exit_code == 2
    assert [line.split(": ")[0] for line in result.stderr.splitlines()] == [
        "in/0.png", "in/2.png", "in/3.png"
    ]  # fmt: skip
    assert [line.split(": ")[0].strip() for line in result.stdout.splitlines()] == [
        "in/1.png", "out/1.html", "in/4.png", "out/4.html"
    ]  # fmt: skip
    assert sorted(path.name for path in Path("out").iterdir()) == ["1.html", "4.html"]


def test_pages_lead_past_frames_that_failed(five):
    assert five("diff", "a.yaml", "same.yaml", "in", "--out", "out").exit_code == 2
    links = [re.findall(r'<a rel="(\w+)" href="(.*?)"', Path(f"out/{i}.html").read_text())
             for i in (1, 4)]  # fmt: skip
    assert links == [[("next", "4.html")], [("prev", "1.html")]]


def test_json_has_an_entry_for_a_frame_that_failed(five):
    result = five("diff", "a.yaml", "same.yaml", "in", "--json")
    document = json.loads(result.stdout)
    assert (result.exit_code, document["same"]) == (2, False)
    assert [frame["original"] for frame in document["frames"]] == [f"in/{i}.png" for i in range(5)]
    assert [list(frame) == ["original", "error"] for frame in document["frames"]] == [
        True, False, True, True, False
    ]  # fmt: skip
    assert document["frames"][0]["error"].startswith("in/0.png: ")


def test_frames_that_all_fail_are_not_the_same(run):
    result = run("diff", "a.yaml", "same.yaml", "a.yaml", "b.yaml", "--out", "out")
    assert result.exit_code == 2
    said = [line for line in result.stderr.splitlines() if not line.startswith("Compil")]
    assert [line[:6] for line in said] == ["a.yaml", "b.yaml"]
    assert not Path("out").exists()


def test_a_frame_that_fails_in_a_way_that_nobody_foresaw(run, monkeypatch):
    from grading.pages import publish, sheet

    def odd(path, **options):
        if path.name == "0.png":
            raise ZeroDivisionError("no\nway")
        return open_frame(path, **options)

    open_frame = publish.open_frame
    monkeypatch.setattr(publish, "open_frame", odd)
    monkeypatch.setattr(sheet, "open_frame", odd)
    for result in (
        run("diff", "a.yaml", "b.yaml", "in", "--out", "out"),
        run("sheet", "in", "--look", "a.yaml", "--out", "s.html"),
    ):
        words = r"in/0.png: failed unexpectedly (ZeroDivisionError: no\nway)"
        assert words in result.stderr.splitlines()
    assert Path("out/1.html").exists() and Path("s.html").exists()


def test_recipes_alone_are_reported_in_words(run):
    result = run("diff", "a.yaml", "b.yaml")
    assert result.exit_code == 1
    assert result.stdout == "exposure.stops: 0.5 -> 0.8 stops (+0.3)\n"
    result = run("diff", "a.yaml", "same.yaml")
    assert (result.exit_code, result.stdout) == (0, "The recipes do the same.\n")


def test_json_is_alone_on_the_output(run):
    result = run("diff", "a.yaml", "b.yaml", "in", "--json")
    document = json.loads(result.stdout)
    assert result.exit_code == 1
    assert document["same"] is False
    assert [frame["original"] for frame in document["frames"]] == ["in/0.png", "in/1.png"]
    assert document["changes"][0]["values"] == ["exposure.stops: 0.5 -> 0.8 stops (+0.3)"]
    assert json.loads(run("diff", "a.yaml", "same.yaml", "--json").stdout)["same"] is True


def test_pages_are_replaced_only_when_asked(run):
    assert run("diff", "a.yaml", "b.yaml", "in", "--out", "out").exit_code == 1
    before = Path("out/0.html").read_bytes()
    again = run("diff", "a.yaml", "same.yaml", "in", "--out", "out")
    assert again.exit_code == 2
    assert "out/0.html: exists already" in again.stderr
    assert Path("out/0.html").read_bytes() == before
    assert run("diff", "a.yaml", "same.yaml", "in", "--out", "out", "--overwrite").exit_code == 0
    assert Path("out/0.html").read_bytes() != before


def test_links_lead_to_pages_of_any_name(run, browser):
    for old, new in (("in/0.png", "in/a #1?.png"), ("in/1.png", "in/b%20:.png")):
        Path(old).rename(new)
    assert run("diff", "a.yaml", "b.yaml", "in", "--out", "out").exit_code == 1
    browser.open(Path("out/a #1?.html").resolve())
    browser.run("document.querySelector('nav a[href]').click()")
    browser.wait_for("document.title.startsWith('b%20:.png')")


def test_pictures_of_a_smaller_size(run):
    result = run("diff", "a.yaml", "b.yaml", "in/0.png", "--long-edge", "16", "--json")
    assert json.loads(result.stdout)["frames"][0]["size"] == [16, 11]


def test_pages_of_names_that_differ_in_case_only_are_kept_apart():
    """As many file systems, and those that a folder of pages may be copied to, do not."""
    assert page_names([Path("a/Sea.dng"), Path("b/sea.dng")]) == ["Sea.html", "sea-2.html"]
    assert page_names([Path("a/sea.dng"), Path("b/Sea.dng")]) == ["sea.html", "Sea-2.html"]


def test_page_names_are_one_a_frame():
    paths = [Path("a/1.dng"), Path("b/1.dng"), Path("b/1.DNG"), Path("B/1-2.dng")]
    assert page_names(paths) == ["1.html", "1-2.html", "1-3.html", "1-2-2.html"]


@pytest.mark.parametrize(("name", "start"), [("s.html", b"<!doctype html>"), ("s.PDF", b"%PDF")])
def test_a_sheet_of_two_looks(run, name, start):
    result = run("sheet", "in", "--look", "a.yaml", "--look", "b.yaml", "--out", name)
    assert result.exit_code == 0, result.output
    assert Path(name).read_bytes().startswith(start)
    assert result.stderr == f"2 of 2 frames on {name}\n"
    again = run("sheet", "in", "--look", "a.yaml", "--out", name)
    assert again.exit_code == 2 and "exists already" in again.stderr
    assert run("sheet", "in", "--look", "a.yaml", "--out", name, "--overwrite").exit_code == 0


def test_a_sheet_reports_what_could_not_be_opened(run):
    Path("in/1.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    result = run("sheet", "in", "--look", "a.yaml", "--out", "s.html", "--title", "Evening")
    assert result.exit_code == 1
    assert "in/1.png: " in result.stderr and "1 of 2 frames" in result.stderr
    assert "<title>Evening</title>" in Path("s.html").read_text()


def test_a_sheet_of_another_kind_is_refused(run):
    result = run("sheet", "in", "--look", "a.yaml", "--out", "s.docx")
    assert result.exit_code == 2
    assert "allowed: .html, .pdf" in result.stderr
