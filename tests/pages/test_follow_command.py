"""`grading follow` as a person starts and ends it."""

import signal
import subprocess
import sys
import urllib.request

import pytest
from click.testing import CliRunner

from grading.cli import main
from pages.follow_setup import contents_of, save, write_original


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT can be sent to a process there")
@pytest.mark.usefixtures("interruptible")
def test_serves_until_interrupted(tmp_path):
    write_original(tmp_path / "frame.png")
    save(tmp_path / "look.yaml", "exposure: {stops: 1}\n")
    before = contents_of(tmp_path)
    command = [sys.executable, "-m", "grading", "follow", "look.yaml", "frame.png"]
    process = subprocess.Popen(
        command, cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    url = process.stdout.readline().strip()
    assert url.startswith("http://127.0.0.1:")
    with urllib.request.urlopen(url + "picture/0/1", timeout=60) as answer:
        assert answer.read(3) == b"\xff\xd8\xff"
    process.send_signal(signal.SIGINT)
    printed, said = process.communicate(timeout=30)
    assert printed == ""
    lines = [line for line in said.splitlines() if not line.startswith("Compil")]  # on a first run
    assert lines == ["open this address in a browser of this machine; Ctrl-C ends it"]
    assert process.returncode == 0
    assert contents_of(tmp_path) == before


def test_opens_the_page(tmp_path, monkeypatch):
    """The browser is given the address that is printed; then Ctrl-C comes."""
    write_original(tmp_path / "frame.png")
    save(tmp_path / "look.yaml", "")
    opened = []

    def interrupted(url):
        opened.append(url)
        raise KeyboardInterrupt

    monkeypatch.setattr("webbrowser.open", interrupted)
    arguments = ["follow", str(tmp_path / "look.yaml"), str(tmp_path / "frame.png")]
    result = CliRunner().invoke(main, [*arguments, "--open"])
    assert result.exit_code == 0
    assert [result.stdout.strip()] == opened


def test_trouble_is_reported_before_anything_is_served(tmp_path):
    write_original(tmp_path / "frame.png")
    for recipe, original, problem in (
        ("none.yaml", "frame.png", "no such file"),
        ("nosuchlook", "frame.png", "no look named"),
        ("evenlight", "none.dng", "no such file"),
    ):
        result = CliRunner().invoke(main, ["follow", recipe, str(tmp_path / original)])
        assert result.exit_code == 2
        assert problem in result.output
