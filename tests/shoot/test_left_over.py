"""Outputs under names that a shoot no longer gives are named, and stay."""

import json
from textwrap import dedent

import numpy as np
import pytest
from click.testing import CliRunner

from dng import write_dng
from files.charts import MATRIX_A
from grading.cli import main

SHOOT = """\
shoot: 1
originals: card
looks: [plain.yaml]
deliveries:
  web: {folder: web, name: "{number:02}-{stem}"}
"""


@pytest.fixture
def numbered(tmp_path):
    """Three frames of a shoot whose outputs bear their numbers, and what runs it."""
    (tmp_path / "card").mkdir()
    for n in range(3):
        codes = np.random.default_rng(n).integers(2000, 9000, (32, 48)).astype(np.uint16)
        write_dng(tmp_path / f"card/F{n + 1}.dng", codes, white=16000, color_matrix1=MATRIX_A,
                  illuminant1="A", as_shot_neutral=(0.5, 1, 0.6),
                  exif={"DateTimeOriginal": f"2026:04:18 19:0{n}:00"})  # fmt: skip
    (tmp_path / "plain.yaml").write_text("grading: 1\n")
    (tmp_path / "evening.yaml").write_text(dedent(SHOOT))

    def run(*options):
        return CliRunner().invoke(main, ["render", str(tmp_path / "evening.yaml"), *options])

    return run


def test_a_frame_that_is_gone_leaves_outputs_of_old_numbers(numbered, tmp_path):
    web = tmp_path / "web"
    first = numbered()
    assert first.exit_code == 0 and "earlier runs" not in first.output
    (web / "04-mine.jpg").write_bytes(b"a person's own")
    (tmp_path / "card/F2.dng").unlink()
    said = (
        f"note: in {web} 2 outputs of earlier runs under names that this run does not give: "
        "02-F2.jpg, 03-F3.jpg (move them away unless you want them)"
    )
    assert said in numbered("--keep", "--dry-run").output.splitlines()
    report = tmp_path / "report.json"
    again = numbered("--keep", "--report", str(report))
    assert again.exit_code == 0 and said in again.output.splitlines()
    assert json.loads(report.read_text())["notes"] == [said.removeprefix("note: ")]
    assert sorted(path.name for path in web.glob("*.jpg")) == [
        "01-F1.jpg", "02-F2.jpg", "02-F3.jpg", "03-F3.jpg", "04-mine.jpg",
    ]  # fmt: skip
    for name in ("02-F2.jpg", "03-F3.jpg"):
        (web / name).unlink()
        (web / f"{name}.yaml").unlink()
    assert "earlier runs" not in numbered("--keep").output


def test_outputs_beside_those_of_a_recipe_are_nobodys_business(numbered, tmp_path):
    out = ["--out", str(tmp_path / "web")]
    for name in ("F1", "F2"):
        arguments = ["render", str(tmp_path / "plain.yaml"), str(tmp_path / f"card/{name}.dng")]
        run = CliRunner().invoke(main, [*arguments, *out])
        assert run.exit_code == 0 and "earlier runs" not in run.output
