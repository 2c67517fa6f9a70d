"""The verbs, their exit status and what they print."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from importlib import metadata
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import grading
from grading import cli
from grading.cli import group
from grading.engine import output
from grading.files.formats.registry import FORMATS
from grading.files.metadata import label
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


def test_a_frame_that_fails_is_reported_and_gives_status_1(run):
    Path("in/1.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    result = run("render", "good.yaml", "in", "--out", "out", "--format", "tiff")
    assert result.exit_code == 1
    assert "in/1.png: " in result.stderr
    assert "1 of 2 rendered into out" in result.stderr
    assert result.stderr.endswith("1 failed\n")
    assert Path("out/0.tif").exists()


def test_an_existing_output_is_refused_before_any_work(run):
    assert run("render", "good.yaml", "in/1.png", "--out", "out").exit_code == 0
    before = Path("out/1.jpg").read_bytes()
    result = run("render", "good.yaml", "in", "--out", "out", "--quality", "50")
    assert result.exit_code == 2
    assert result.stderr == (
        "Error: out/1.jpg: exists already; choose another folder, or state --overwrite, "
        "or --keep to make only what is missing\n"
    )
    assert len(list(Path("out").iterdir())) == 2
    overwritten = run("render", "good.yaml", "in", "--out", "out", "--quality", "50", "--overwrite")
    assert overwritten.exit_code == 0
    assert Path("out/1.jpg").read_bytes() != before


def test_a_persons_file_is_never_replaced(run):
    Path("out").mkdir()
    for name in ("1.jpg", "1.jpg.yaml"):
        Path("out", name).write_bytes(b"mine")
    for ways in ([], ["--overwrite"], ["--keep"], ["--keep", "--overwrite"]):
        result = run("render", "good.yaml", "in", "--out", "out", *ways)
        assert result.exit_code == 2
        assert [path.read_bytes() for path in Path("out").iterdir()] == [b"mine", b"mine"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("in/0.png", "good.yaml"), "Error: in/0.png: this is no text; allowed: a text file in "
         "YAML, such as a recipe; if it is an original, name it after the recipe"),
        (("good.yaml", "good.yaml"), "good.yaml: a text, and no picture; allowed: raw files, "),
    ],
)  # fmt: skip
def test_files_in_the_wrong_place_are_told_from_broken_ones(run, arguments, words):
    result = run("render", *arguments, "--out", "out")
    assert result.exit_code and words in result.stderr


@pytest.mark.parametrize("verb", [("render",), ("sheet", "--out", "a.html")])
@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("none.yaml", "none.yaml: there is no such file"),
        ("tab.yaml", "tab.yaml:2:1: a tab where YAML wants spaces"),
    ],
)
def test_a_shoot_file_that_cannot_be_read_is_not_taken_for_a_recipe(run, verb, file, words):
    Path("tab.yaml").write_text("shoot: 1\n\tlooks: [evenlight]\n")
    result = run(verb[0], file, *verb[1:])
    assert result.exit_code == 2 and words in result.stderr


def test_numbers_are_asked_for_in_plain_words(run):
    result = run("render", "good.yaml", "in", "--out", "out", "--long-edge", "2048px")
    assert "'2048px' is not a valid whole number." in result.stderr


def test_a_run_goes_on_where_another_ended(run):
    assert run("render", "good.yaml", "in/0.png", "--out", "out").exit_code == 0
    result = run("render", "good.yaml", "in", "--out", "out", "--keep")
    assert result.exit_code == 0
    assert re.search(r"1 of 1 rendered into out in \S+ s, 1 kept\n$", result.stderr)
    result = run("render", "good.yaml", "in", "--out", "out", "--keep")
    assert re.search(r"nothing to render into out, 2 kept\n$", result.stderr)


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
        (["schema", "good.yaml"], "good.yaml: the output exists already; choose another, or "
         "state --overwrite"),
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
    assert "out/0.jpg is not the file that the sidecar was written for" in result.stderr
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
    assert tuple(FORMATS) == cli.FORMATS
    assert cli.SPACES == output.OUTPUT_SPACES
    assert group.RGB_SPACES == output.RGB_SPACES
    assert group.PLACES == (label.LEAVE_OUT, label.KEEP)
    assert (cli.batch.SIDE.min, cli.batch.SIDE.max) == output.SIDES
    (dpi,) = (p.type for p in cli.batch.render.params if p.name == "dpi")
    assert (dpi.min, dpi.max) == label.DPI


def test_render_into_other_formats_sizes_and_spaces(run):
    asked = ["--format", "png16", "--space", "grey", "--box", 18, 30, "--dpi", 200]
    result = run("render", "good.yaml", "in/0.png", "--out", "out", *asked)
    assert result.exit_code == 0, result.stderr
    with Image.open("out/0.png") as image:
        assert image.size == (18, 12) and image.mode.startswith("I;16")
        assert image.info["dpi"] == pytest.approx((200, 200), abs=0.01)
    assert run("verify", "out", "--redo", "all").exit_code == 0
    kept = run("render", "good.yaml", "in/0.png", "--out", "out", *asked, "--keep")
    assert "1 kept" in kept.stderr
    for extra, told in (
        (["--short-edge", 20], "short_edge and box are stated together"),
        (["--format", "jxl", "--space", "bt2020"], "jxl has no way to state the space bt2020"),
    ):
        refused = run("render", "good.yaml", "in/0.png", "--out", "o2", "--box", 20, 20, *extra)
        assert refused.exit_code == 2 and told in refused.stderr and not Path("o2").exists()


def test_what_a_shoot_states_is_no_option(run):
    Path("e.yaml").write_text(
        "shoot: 1\noriginals: in\nlooks: [good.yaml]\ndeliveries: {a: {folder: a}}\n"
    )
    for option in (["--box", 20, 20], ["--dpi", 300], ["--place", "keep"], ["--short-edge", 20],
                   ["--sharpen", 0.2]):
        result = run("render", "e.yaml", *option)
        assert result.exit_code == 2 and f": {option[0]}; leave it out" in result.stderr


def test_the_package_exposes_its_functions_lazily():
    code = (
        "import sys, grading; assert not set(sys.modules) & {'numpy', 'pydantic', 'click'};"
        "grading.load_recipe, grading.open_frame, grading.render, grading.Output"
    )
    subprocess.run([sys.executable, "-c", code], check=True)
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        grading.nothing  # noqa: B018


def test_a_quality_that_is_not_stated_is_that_of_the_engine(run):
    (default,) = (p.default for p in cli.batch.render.params if p.name == "quality")
    assert default == output.Output().quality
    assert run("render", "good.yaml", "in/0.png", "--out", "out").exit_code == 0
    assert f"quality: {default}\n" in Path("out/0.jpg.yaml").read_text("utf-8")


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
def test_export_writes_a_file_and_reports_what_is_left_out(run, kind, element):
    result = run("export", "good.yaml", "--as", kind, "--out", "look.xml")
    assert result.exit_code == 0, result.stderr
    assert result.stdout == ""
    assert result.stderr.startswith("white_balance: ")
    assert f"<{element} " in Path("look.xml").read_text()
    again = run("export", "good.yaml", "--as", kind, "--out", "look.xml")
    assert again.exit_code == 2
    assert "the output exists already" in again.stderr
    assert run("export", "good.yaml", "--as", kind).stdout == Path("look.xml").read_text()


def test_what_the_system_refuses_is_reported(run):
    result = run("render", "good.yaml", "a" * 5000, "--out", "out")
    assert result.exit_code == 2
    assert "a" * 5000 in result.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a file that takes nothing")
def test_output_that_cannot_be_written_is_reported():
    with open("/dev/full", "w") as full:
        command = [sys.executable, "-m", "grading", "explain"]
        done = subprocess.run(command, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 2
    assert done.stderr == "Error: output: No space left on device\n"


def test_output_that_nobody_reads_ends_it_quietly():
    command = [sys.executable, "-m", "grading", "explain"]
    reading, writing = os.pipe()
    os.close(reading)
    done = subprocess.run(command, stdout=writing, stderr=subprocess.PIPE, text=True)
    os.close(writing)
    assert (done.returncode, done.stderr) == (1, "")


STEERING = re.compile("[^\n\x20-\x7e\xa0-\u200d\u2010-\u2027\u2030-\u205f\u2070-\ud7ff]")


@pytest.mark.parametrize(
    "arguments",
    [
        ("check", "\x1b[2J\n.yaml"),
        ("check", "nolook\x1b[2J"),
        ("explain", "exposure\x9b.\u202e"),
        ("\x1b[2Jcheck", "good.yaml"),
        ("check", "--\x1b[2J"),
        ("verify", "out\x1b\n"),
        ("render", "good.yaml", "in\r\x1b[2J", "--out", "out"),
        ("render", "good.yaml", "in", "--out", "out", "--space", "\x1b[2J\n"),
        ("diff", "good.yaml", "good.yaml", "in", "in\u202e"),
        ("schema", "s\x1b.json", "surplus\x1b\n"),
        ("sheet", "in", "--look", "good.yaml", "--out", "\x1b.docx"),
        ("export", "good.yaml", "--as", "cdl", "--out", "none\x1b/x"),
    ],
)
def test_an_error_steers_no_terminal(run, arguments):
    result = run(*arguments)
    assert result.exit_code == (1 if arguments[0] == "check" and arguments[1][:2] != "--" else 2)
    assert not STEERING.search(result.output), result.output
    assert re.search(r"\\x1b|\\x9b|\\u202e", result.stderr)


def test_a_name_cannot_forge_a_line(run):
    """An original, a recipe and keys with line ends in them stay on the lines that speak of them"""
    forged = "\n2 of 2 rendered into out in 0.1 s"
    Path("in/0.png").rename(f"in/0{forged}.png")
    Path("in/1.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    result = run("render", "good.yaml", "in", "--out", "out")
    assert not [line for line in result.stderr.splitlines() if line.startswith("2 of 2")]
    Path("bad.yaml").write_text('grading: 1\n"a\\nb": 1\nexposure: {stops: "1\\n2"}\n')
    result = run("check", "bad.yaml")
    assert [line[:10] for line in result.stderr.splitlines()] == ["bad.yaml:2", "bad.yaml:3"]
    Path("good.yaml").write_text('grading: 1\ntitle: "a\\nb \\e[2J"\n')
    assert run("check", "good.yaml").stdout.splitlines()[0] == r"a\nb \x1b[2J (good.yaml)"


@pytest.mark.parametrize(
    "environment",
    [
        {"PYTHONIOENCODING": "ascii"},
        {"PYTHONIOENCODING": "latin-1"},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    ],
)
def test_a_terminal_of_few_letters(run, environment):
    Path("日é.yaml").write_text("grading: 1\ntitle: H\u00e4fen \u65e5\n", "utf-8")
    program = """
import sys
from grading.cli import main
for words in (["check", sys.argv[1]], ["diff", sys.argv[1], "good.yaml"], ["looks"], ["explain"],
              ["explain", "hues"], ["--help"], ["diff", "--help"], ["\\u65e5"],
              ["diff", sys.argv[1], "good.yaml", "--json"], ["check", "\\u65e5"]):
    try:
        main(words)
    except SystemExit as end:
        print(end.code)
"""
    done = subprocess.run(
        [sys.executable, "-c", program, "日é.yaml"], env=os.environ | environment,
        capture_output=True,
    )  # fmt: skip
    assert b"Traceback" not in done.stderr
    codes = [line for line in done.stdout.split(b"\n") if re.fullmatch(rb"\d", line)]
    assert codes == [b"0", b"1", b"0", b"0", b"0", b"0", b"0", b"2", b"1", b"1"]
    assert all(byte < 128 for byte in done.stdout + done.stderr) or "latin-1" in str(environment)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("grading.recipe.load.load_recipe", ["render", "good.yaml", "in", "--out", "out"]),
        ("grading.shoot.originals.find_originals", ["render", "good.yaml", "in", "--out", "out"]),
        ("grading.shoot.originals.find_originals", ["follow", "good.yaml", "in"]),
        ("grading.recipe.load.load_recipe", ["check", "good.yaml"]),
        ("grading.pages.sheet.open_frame", ["sheet", "in", "--look=good.yaml", "--out=s.pdf"]),
        ("grading.pages.publish.open_frame", ["diff", "good.yaml", "good.yaml", "in"]),
    ],
)
def test_a_stop_is_reported_in_words(run, monkeypatch, place, words):
    def interrupted(*_, **__):
        raise KeyboardInterrupt

    monkeypatch.setattr(place, interrupted)
    before = sorted(Path().rglob("*"))
    result = run(*words)
    assert result.exit_code == 130
    lines = result.stderr.strip().splitlines()
    said = [line for line in lines if line and not line.startswith("Compil")]
    assert said == ["Stopped. No file is half written, and no original was touched."]
    assert sorted(Path().rglob("*")) == before
    text = run("--help").stdout
    assert "130 stopped by Ctrl-C" in " ".join(text.split())
    assert "..." not in text.partition("Commands:")[2]


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT can be sent to a process there")
@pytest.mark.usefixtures("interruptible")
@pytest.mark.parametrize("verb", ["render", "diff", "sheet", "check"])
def test_a_stop_at_any_time_is_reported_in_words(run, verb):
    """From the moment at which our own code runs; what Python says before that is Python's."""
    words = {
        "render": ["render", "good.yaml", "in", "--out", "out", "--overwrite"],
        "diff": ["diff", "good.yaml", "harbour-dusk", "in", "--out", "out", "--overwrite"],
        "sheet": ["sheet", "in", "--look", "good.yaml", "--out", "s.pdf", "--overwrite"],
        "check": ["check", *["good.yaml"] * 200],
    }[verb]
    program = f"from grading.cli import main; print('begun', flush=True); main({words!r})"
    ends = []
    for i in range(40):
        process = subprocess.Popen(
            [sys.executable, "-c", program],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        assert process.stdout.readline() == "begun\n"
        time.sleep(0.03 + i * 0.07)
        process.send_signal(signal.SIGINT)
        errors = process.communicate(timeout=60)[1]  # it does not hang either
        assert "Traceback" not in errors, (i, errors)
        assert (process.returncode == 130) == ("topped" in errors), (i, errors)
        ends.append(process.returncode)
        assert not list(Path().rglob("*.part"))
    assert ends.count(130) > 5
