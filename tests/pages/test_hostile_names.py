"""Originals whose names, titles and texts are meant to do harm, through every verb that shows them.

They are names that a file system of POSIX allows.
"""

import os
import re
import sys
from pathlib import Path
from urllib.parse import quote, unquote_to_bytes

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from grading.cli import main
from grading.pages.follow.figures import of_shown
from grading.pages.follow.followed import Shown
from grading.pages.html import page
from grading.terminal import visible
from pages.follow_setup import followed
from pages.html_checks import Parts, assert_whole_in_itself

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="names of any bytes are of Linux")

NAMES = [
    b"\x1b[31mred\x1b[0m",
    b"\x1b]0;title\x07",
    b"line\n9 of 9 rendered into elsewhere",
    b"\r\x1b[2Kgone\x08\x08",
    b"csi \xc2\x9b2J",
    "exe.\u202egpj".encode(),
    "in \u2066\u2067\u2069 out\u200f".encode(),
    b"\"'><script>harmed=1</script>&amp;".replace(b"/", b"\\"),
    b"' onerror='harmed=1",
    b"-n --overwrite",
    b"50%25 %2e%2e %s {{ 7*7 }} {% x %}",
    b"#fragment?query;a=b",
    b"  two  spaces ",
    b"\xff\xfe no text",
    b"back\\slash\\n",
    b"javascript:alert(1)",
    "日本 ß é \u0301".encode(),
    b"x" * 200,
    b"~$HOME`id`*[a]",
]
STEERING = "[^\n\x20-\x7e\xa0-\u200d\u2010-\u2027\u2030-\u205f\u2070-\ud7ff\ue000-\U0010ffff]"


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    os.mkdir("in")
    rng = np.random.default_rng(2)
    exif = Image.Exif()
    exif[272] = "Model\x1b[2J\u202e"
    exif[306] = "2025:09:14\x1b[31m"
    for name in NAMES:
        with open(os.path.join(b"in", name + b".png"), "wb") as file:
            picture = Image.fromarray(rng.integers(30, 200, (20, 30, 3), np.uint8))
            picture.save(file, "PNG", exif=exif)
    Path("look.yaml").write_text('grading: 1\ntitle: "L \\e[2J\\u202e<script>"\n', "utf-8")
    Path("other.yaml").write_text("grading: 1\nexposure: {stops: 0.5}\n")
    return tmp_path


def run(*arguments):
    """The result of a verb that prints nothing which steers a terminal."""
    result = CliRunner().invoke(main, arguments)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    found = re.search(STEERING, result.output)
    assert not found, (found, result.output)
    return result


def test_rendered_verified_and_made_again(folder):
    result = run("render", "look.yaml", "in", "--out", "out", "--long-edge", "16")
    written = {name.removesuffix(b".jpg") for name in os.listdir(b"out") if name.endswith(b".jpg")}
    for name in set(NAMES) - written:
        shown = visible(os.fsdecode(b"in/" + name + b".png"))
        assert any(line.startswith(f"{shown}: ") for line in result.stderr.splitlines())
    count = len(NAMES)
    (summary,) = re.findall(rf"^(\d+) of {count} rendered into out in ", result.stderr, re.M)
    assert int(summary) == len(written)
    run("verify", "out")
    run("redo", *sorted(str(path) for path in Path("out").glob("*.yaml")))


def test_compared_on_pages_that_lead_to_each_other(folder, browser):
    result = run("diff", "look.yaml", "other.yaml", "in", "--out", "out", "--long-edge", "16")
    assert result.exit_code == 1, result.output
    pages = sorted(os.listdir(b"out"))
    assert sorted(name.removesuffix(b".html") for name in pages) == sorted(NAMES)
    reached = []
    for file in pages:
        data = Path("out", os.fsdecode(file)).read_bytes()
        parts = assert_whole_in_itself(data)
        assert parts.tags.count("script") == 1
        assert visible(os.fsdecode(file)).removesuffix(".html") in parts.text
        assert not re.search(STEERING, parts.text)
        reached += [unquote_to_bytes(value) for tag, name, value in parts.attributes
                    if (tag, name) == ("a", "href") and not value.startswith("#")]  # fmt: skip
    assert sorted(set(reached)) == pages
    assert len(reached) == 2 * (len(pages) - 1)
    walk_through(browser, folder / "out", pages)


def walk_through(browser, folder, pages):
    """Click from the first page to the last one."""
    (first,) = [file for file in pages
                if b'rel="prev"' not in Path(folder, os.fsdecode(file)).read_bytes()]  # fmt: skip
    browser.open("file://" + quote(os.fsencode(folder) + b"/" + first))
    seen = set()
    for _ in pages:
        browser.wait_for("document.readyState === 'complete' && !window.seen")
        seen.add(browser.run("window.seen = location.pathname"))
        assert browser.run("window.harmed === undefined")
        assert browser.problems() == []
        if not browser.run("!!document.querySelector('a[rel=next]')"):
            break
        browser.run("document.querySelector('a[rel=next]').click()")
        browser.wait_for("!window.seen")
    assert {unquote_to_bytes(path).rpartition(b"/")[2] for path in seen} == set(pages)


@pytest.mark.parametrize("sheet", ["s.html", "s.pdf"])
def test_on_a_sheet(folder, sheet):
    title = "T\x1b[2J\u202e\udcff<b>\n"
    result = run("sheet", "in", "--look", "look.yaml", "--out", sheet, "--title", title)
    assert result.exit_code == 0, result.output
    data = Path(sheet).read_bytes()
    if sheet.endswith("html"):
        parts = assert_whole_in_itself(data)
        assert parts.tags.count("script") == 1  # our own
        assert not re.search(STEERING, parts.text)
        for name in NAMES:
            assert visible(os.fsdecode(name + b".png")) in parts.text


def test_followed(tmp_path, monkeypatch, browser):
    import pages.follow_setup as setup

    names = iter(NAMES)
    write = setup.write_original
    monkeypatch.setattr(
        setup, "write_original",
        lambda path: write_named(write, path.with_name(os.fsdecode(next(names) + b".png"))),
    )  # fmt: skip
    with followed(tmp_path, 'title: "L \\e[2J\\u202e<b>"\n', frames=len(NAMES)) as server:
        browser.open(server.url)
        browser.wait_for("document.querySelector('#shown').dataset.version === '1'")
        shown = browser.run("[...document.querySelectorAll('#frame option')].map((o) => o.title)")
        assert shown == [visible(os.fsdecode(name + b".png")) for name in NAMES]
        assert browser.run("document.querySelector('h1').textContent") == r"L \x1b[2J\u202e<b>"
        assert browser.run("window.harmed === undefined") and browser.problems() == []
        browser.open("about:blank")


def write_named(write, path):
    plain = write(path.with_name("plain.png"))
    os.replace(plain, path)
    return path


def test_names_on_the_live_page_are_written_out():
    html = page("follow.html", recipe=Path("a\u202e\n.yaml"), tools=(), hues=())
    text = Parts(html.decode()).text
    assert text.count(r"a\u202e\n.yaml") == 2 and "\u202e" not in text
    shown = Shown("", (Path("b\x1b.png"),), (), ("c\x07",), (["d\u202e"],), ({"name": "e\x1b"},))
    assert of_shown(shown) == {
        "frames": [r"b\x1b.png"],
        "looks": [r"c\x07"],
        "notes": [[r"d\u202e"]],
        "course": [{"name": r"e\x1b"}],
    }
