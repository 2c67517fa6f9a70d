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
