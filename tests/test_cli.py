"""The verbs, their exit status and what they print."""

import json
import re
import subprocess
import sys
from importlib import metadata
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import grading
from grading import cli
from grading.engine import output
from grading.recipe.inheritance import look_names


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("good.yaml").write_text("grading: 1\ntitle: Good\nexposure: {stops: 0.5}\n")
    Path("bad.yaml").write_text("grading: 1\nexposure: {stops: 99}\n")
    Path("in").mkdir()
    for i in range(2):
        array = np.random.default_rng(i).integers(30, 200, (20, 30, 3), np.uint8)
        Image.fromarray(array).save(f"in/{i}.png")
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


def test_render_then_verify_then_redo(run):
    rendered = run("render", "good.yaml", "in", "--out", "out", "--space", "display-p3")
    assert rendered.exit_code == 0, rendered.stderr
    assert "2 of 2 rendered into out" in rendered.stderr
    assert sorted(path.name for path in Path("out").iterdir()) == [
        "0.jpg", "0.jpg.yaml", "1.jpg", "1.jpg.yaml",
    ]  # fmt: skip
    verified = run("verify", "out")
    assert (verified.exit_code, verified.stdout) == (
        0,
        "2 agree with their sidecars, 0 in trouble\n",
    )
    Path("out/1.jpg").unlink()
    redone = run("redo", "out/0.jpg.yaml", "out/1.jpg.yaml")
    assert redone.exit_code == 0
    assert redone.stdout == "out/0.jpg: same bits, there already\nout/1.jpg: same bits, written\n"


def test_render_by_a_shipped_look(run):
    assert run("render", look_names()[0], "in/*.png", "--out", "out").exit_code == 0


def test_a_frame_that_fails_is_told_and_gives_status_1(run):
    Path("in/1.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    result = run("render", "good.yaml", "in", "--out", "out", "--format", "tiff")
    assert result.exit_code == 1
    assert "in/1.png: " in result.stderr
    assert "1 of 2 rendered into out" in result.stderr
    assert result.stderr.endswith("1 failed\n")
    assert Path("out/0.tif").exists()


def test_an_existing_output_is_refused_before_any_work(run):
    Path("out").mkdir()
    for name in ("1.jpg", "1.jpg.yaml"):
        Path("out", name).write_bytes(b"mine")
    result = run("render", "good.yaml", "in", "--out", "out")
    assert result.exit_code == 2
    assert result.stderr == (
        "Error: out/1.jpg: exists already; choose another folder, or state --overwrite, "
        "or --keep to make only what is missing\n"
    )
    assert len(list(Path("out").iterdir())) == 2
    assert run("render", "good.yaml", "in", "--out", "out", "--overwrite").exit_code == 0
    assert Path("out/1.jpg").read_bytes() != b"mine"


def test_a_run_goes_on_where_another_ended(run):
    assert run("render", "good.yaml", "in/0.png", "--out", "out").exit_code == 0
    result = run("render", "good.yaml", "in", "--out", "out", "--keep")
    assert result.exit_code == 0
    assert re.search(r"1 of 1 rendered into out in \S+ s, 1 kept\n$", result.stderr)
    result = run("render", "good.yaml", "in", "--out", "out", "--keep")
    assert re.search(r"0 of 0 rendered into out in \S+ s, 2 kept\n$", result.stderr)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["render", "bad.yaml", "in", "--out", "out"], "bad.yaml:2:19: exposure.stops = 99"),
        (["render", "good.yaml", "nowhere", "--out", "out"], "nowhere: there is no such file"),
        (["render", "nolook", "in", "--out", "out"], "there is no look named nolook"),
        (["render", "good.yaml", "in"], "Missing option '--out'"),
        (["render", "good.yaml", "in", "--out", "o", "--quality", "101"], "1<=x<=100"),
        (["render", "good.yaml", "in", "--out", "o", "--space", "p3"], "'display-p3'"),
        (["verify", "in"], "in: no outputs with sidecars are here"),
        (["explain", "exposur"], "did you mean exposure?"),
        (["schema", "good.yaml"], "good.yaml: the output exists already"),
        (["rendr"], "No such command"),
    ],
)
def test_wrong_usage_gives_status_2(run, arguments, message):
    result = run(*arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not Path("out").exists()


def test_trouble_found_by_verify_gives_status_1(run):
    run("render", "good.yaml", "in", "--out", "out")
    Path("out/0.jpg").write_bytes(b"edited")
    result = run("verify", "out")
    assert result.exit_code == 1
    assert "out/0.jpg has SHA-256" in result.stderr
    assert result.stdout == "1 agree with their sidecars, 1 in trouble\n"


def test_a_redo_that_fails_gives_status_1_and_the_rest_is_done(run):
    run("render", "good.yaml", "in", "--out", "out")
    Path("in/0.png").unlink()
    result = run("redo", "out/0.jpg.yaml", "out/1.jpg.yaml")
    assert result.exit_code == 1
    assert "in/0.png" in result.stderr
    assert result.stdout == "out/1.jpg: same bits, there already\n"


def test_check(run):
    result = run("check", "bad.yaml", "good.yaml")
    assert result.exit_code == 1
    assert result.stderr == (
        "bad.yaml:2:19: exposure.stops = 99: more than 10; allowed: -10 to 10 stops\n"
    )
    assert result.stdout.startswith("Good (good.yaml)\n")
    assert run("check", "good.yaml").exit_code == 0


def test_explain(run):
    assert "white_balance" in run("explain").stdout
    assert "exposure.stops: -10 to 10 stops" in run("explain", "exposure.stops").stdout


def test_schema(run):
    printed = run("schema").stdout
    assert json.loads(printed)["required"] == ["grading"]
    assert run("schema", "s.json").exit_code == 0
    assert Path("s.json").read_text("utf-8") == printed
    assert run("schema", "--overwrite", "s.json").exit_code == 0


def test_looks(run):
    lines = run("looks").stdout.splitlines()
    assert [line.split()[0] for line in lines] == look_names()


def test_choices_are_those_of_the_engine():
    assert tuple(output.FORMATS) == cli.FORMATS
    assert cli.SPACES == output.OUTPUT_SPACES


def test_the_package_exposes_its_functions_lazily():
    code = (
        "import sys, grading; assert not set(sys.modules) & {'numpy', 'pydantic', 'click'};"
        "grading.load_recipe, grading.open_frame, grading.render, grading.Output"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        grading.nothing  # noqa: B018


def test_version():
    assert grading.__version__ == metadata.version("grading")
    assert CliRunner().invoke(cli.main, ["--version"]).stdout.split()[-1] == grading.__version__


def test_a_check_imports_nothing_heavy(run):
    code = (
        "import sys; from grading.cli import main\n"
        "try: main(['check', 'good.yaml'])\n"
        "except SystemExit as end: assert end.code == 0\n"
        "heavy = {'numba', 'rawpy', 'imagecodecs', 'tifffile', 'PIL', 'colour', 'scipy'}\n"
        "assert not heavy & set(sys.modules), heavy & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, stdout=subprocess.DEVNULL)


@pytest.mark.parametrize(("kind", "element"), [("cdl", "ColorCorrection"), ("clf", "ProcessList")])
def test_export_writes_a_file_and_tells_what_is_left_out(run, kind, element):
    result = run("export", "good.yaml", "--as", kind, "--out", "look.xml")
    assert result.exit_code == 0, result.stderr
    assert result.stdout == ""
    assert result.stderr.startswith("white_balance: ")
    assert f"<{element} " in Path("look.xml").read_text()
    again = run("export", "good.yaml", "--as", kind, "--out", "look.xml")
    assert again.exit_code == 2
    assert "the output exists already" in again.stderr
    assert run("export", "good.yaml", "--as", kind).stdout == Path("look.xml").read_text()


def test_what_the_system_refuses_is_told(run):
    result = run("render", "good.yaml", "a" * 5000, "--out", "out")
    assert result.exit_code == 2
    assert "a" * 5000 in result.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a file that takes nothing")
def test_output_that_cannot_be_written_is_told():
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "grading", "explain"]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr == "Error: output: No space left on device\n"
