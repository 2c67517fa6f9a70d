"""`grading diff evening.yaml LOOK LOOK`: two looks as the shoot settles them."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from evening.conftest import card, shoot  # noqa: F401
from grading.cli import main
from pages.follow_setup import save

TEXT = """
level: {exposure: 1}
frames:
  F1: {exposure: {stops: 0.25}}
  F3: {leave_out: true}
"""


@pytest.fixture
def evening(card, shoot, tmp_path, monkeypatch):  # noqa: F811
    card()
    monkeypatch.chdir(tmp_path)
    save(tmp_path / "dim.yaml", "exposure: {stops: -1}\n")
    return shoot(TEXT, looks="[evenlight, dim.yaml]").path


def run(*arguments):
    return CliRunner().invoke(main, ["diff", *map(str, arguments)])


def test_each_frame_has_its_page(evening):
    result = run(evening, "evenlight", "dim", "--out", "out")
    assert result.exit_code == 1, result.output
    assert sorted(path.name for path in Path("out").iterdir()) == ["F1.html", "F2.html", "F4.html"]


def test_what_the_shoot_lays_over_both_looks_is_no_difference(evening):
    """The note of F1 states its exposure, so there the looks agree in it."""
    result = run(evening, "evenlight", "dim", "F[12]", "--json")
    frames = json.loads(result.stdout)["frames"]
    assert [Path(frame["original"]).stem for frame in frames] == ["F1", "F2"]
    first, second = ({each["change"] for each in frame["explained"]} for frame in frames)
    assert "exposure.stops" not in first and "exposure.stops" in second
    assert "exposure.levelling" not in second


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["evenlight"], "name two of its looks"),
        (["evenlight", "dusk"], "this shoot has no look dusk; allowed: evenlight, dim"),
        (["evenlight", "dim", "F9"], "there is no frame F9"),
        (["evenlight", "dim", "--pairs", "raw"], "states this itself: --pairs"),
    ],
)
def test_what_is_not_there_is_refused(evening, words, said):
    result = run(evening, *words)
    assert result.exit_code == 2 and said in result.stderr
