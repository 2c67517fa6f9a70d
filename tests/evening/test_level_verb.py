"""`grading level`: what it prints, and what it refuses."""

import pytest
from click.testing import CliRunner

from grading.cli import main


@pytest.fixture
def level(card, shoot, tmp_path):
    def run(count, text, *arguments):
        card(count)
        shoot(text)
        return CliRunner().invoke(main, ["level", str(tmp_path / "evening.yaml"), *arguments])

    return run


def test_a_row_for_each_frame_and_a_page(level, tmp_path):
    page = tmp_path / "course.html"
    result = level(3, "level: {keep_fall: 0}", "--out", str(page))
    assert result.exit_code == 0, result.stderr
    rows = [line.split()[0] for line in result.stdout.splitlines() if line.startswith("F")]
    assert rows[:3] == ["F1", "F2", "F3"]
    assert "F2" in page.read_text("utf-8")
    again = level(3, "level: {keep_fall: 0}", "--out", str(page))
    assert again.exit_code == 2 and "exists already" in again.stderr


def test_files_without_a_time_hold_up_no_other(level, card):
    folder = card(3)
    (folder / "F1.dng").rename(folder / "Z.dng")
    (folder / "F0.dng").write_bytes(b"")
    (folder / "broken.dng").write_bytes(b"no picture")
    result = level(0, "level: {keep_fall: 0}")
    assert result.exit_code == 0, result.stderr
    rows = [line.split()[0] for line in result.stdout.splitlines() if line[:1] in "FZ"]
    assert rows[:3] == ["Z", "F2", "F3"]


def test_two_cameras_are_shown_in_order_of_capture(level, card, tmp_path):
    for number, path in enumerate(sorted(card(4).iterdir())):
        if number % 2:
            path.write_bytes(path.read_bytes().replace(b"Camera\0", b"Second\0"))
    page = tmp_path / "course.html"
    result = level(0, "level: {keep_fall: 0}", "--out", str(page))
    assert result.exit_code == 0, result.stderr
    rows = [line.split()[0] for line in result.stdout.splitlines() if line.startswith("F")]
    assert rows[:4] == ["F1", "F2", "F3", "F4"]


@pytest.mark.parametrize(
    ("count", "text", "words"),
    [
        (1, "level: {keep_fall: 0}", "no two frames of one camera could be opened"),
        (2, "", "nothing is levelled; write level: {exposure: 1}"),
    ],
)
def test_where_there_is_nothing_to_level(level, count, text, words):
    result = level(count, text)
    assert result.exit_code == 2 and words in result.stderr
    assert result.exception is None or isinstance(result.exception, SystemExit)
