"""What a run would do, told without doing it; and notes that no other run replaces."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from grading import cli
from grading.engine.output import Output
from grading.files.sidecar import read_sidecar
from grading.shoot.batch import Outcome
from grading.shoot.jobs import Job, Target
from grading.shoot.notes import laid_over
from grading.shoot.pace import seconds_about

SHOOT = """\
shoot: 1
originals: in
looks: [look.yaml]
frames: {{"0": {{exposure: {{stops: {stops}}}}}}}
deliveries: {{web: {{folder: out}}}}
"""


@pytest.fixture
def run(tmp_path, monkeypatch, make_original, recipe_file):
    monkeypatch.chdir(tmp_path)
    for i in range(3):
        make_original(Path(f"in/{i}.png"), seed=i)
    Path("evening.yaml").write_text(SHOOT.format(stops=0.7))
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


RENDER = ("render", "look.yaml", "in", "--out", "out")


def files():
    return {path: path.read_bytes() for path in Path("out").glob("*")}


def told(result):
    """Fate and reason of each output, by its name."""
    found = {}
    for line in result.stdout.splitlines():
        fate, _, rest = line.partition("  ")
        if rest.lstrip().startswith("out/"):
            path, _, why = rest.strip().partition(": ")
            found[Path(path).name] = fate, why
    return found


def test_a_first_run_makes_all_and_the_plan_makes_nothing(run):
    plan = run(*RENDER, "--dry-run")
    assert plan.exit_code == 0, plan.stderr
    assert told(plan) == {f"{i}.jpg": ("make", "") for i in range(3)}
    assert "3 to make\nout: about 0.1 MB, " in plan.stdout and plan.stdout.endswith(" free\n")
    assert not Path("out").exists()


def test_what_is_kept_out_of_date_or_missing(run, make_original, recipe_file):
    assert run(*RENDER).exit_code == 0
    make_original(Path("in/1.png"), seed=9)
    Path("out/2.jpg").unlink()
    before = files()
    plan = run(*RENDER, "--dry-run", "--keep", "--overwrite")
    assert told(plan) == {
        "0.jpg": ("keep", ""),
        "1.jpg": ("again", "made from another original, or from one in another place"),
        "2.jpg": ("make", ""),
    }
    assert "1 to make, 1 to make again, 1 kept\n" in plan.stdout
    assert files() == before
    done = run(*RENDER, "--keep", "--overwrite")
    assert "2 of 2 rendered" in done.stderr and "1 kept" in done.stderr


@pytest.mark.parametrize("ways", [[], ["--keep"], ["--overwrite"], ["--keep", "--overwrite"]])
def test_the_plan_is_what_the_run_does(run, ways):
    assert run(*RENDER).exit_code == 0
    Path("look.yaml").write_text("grading: 1\nexposure: {stops: 0.1}\n")
    Path("out/2.jpg").unlink()
    Path("out/2.jpg.yaml").unlink()
    plan = run(*RENDER, "--dry-run", *ways)
    done = run(*RENDER, *ways)
    assert plan.exit_code == done.exit_code
    fates = [fate for fate, _ in told(plan).values()]
    if done.exit_code == 2:
        assert fates.count("refuse") == done.stderr.count(": exists already") == 2
    else:
        assert f"{fates.count('make') + fates.count('again')} of " in done.stderr


def test_an_output_in_the_way_that_is_the_same_is_called_so(run):
    assert run(*RENDER).exit_code == 0
    plan = run(*RENDER, "--dry-run")
    assert plan.exit_code == 2
    assert told(plan)["0.jpg"] == ("refuse", "exists already, the same as this run would make")


def test_a_persons_file_is_in_the_way(run):
    Path("out").mkdir()
    Path("out/1.jpg").write_bytes(b"mine")
    plan = run(*RENDER, "--dry-run", "--overwrite")
    assert plan.exit_code == 2
    assert told(plan)["1.jpg"][0] == "refuse" and "without a sidecar" in told(plan)["1.jpg"][1]


def test_the_base_look_does_not_replace_notes(run):
    assert run("render", "evening.yaml").exit_code == 0
    assert laid_over(read_sidecar("out/0.jpg.yaml")) == {"evening.yaml": ["frame 0"]}
    assert laid_over(read_sidecar("out/1.jpg.yaml")) == {}
    before = files()
    for ways in (["--overwrite"], ["--keep", "--overwrite"]):
        refused = run(*RENDER, *ways)
        assert refused.exit_code == 2
        assert refused.stderr.startswith(
            "Error: out/0.jpg: exists already, made with what evening.yaml notes for it (frame 0), "
            "which this run leaves out; choose another folder, or state --discard-notes"
        )
        assert "out/1.jpg" not in refused.stderr
        assert files() == before
    plan = run(*RENDER, "--overwrite", "--dry-run")
    assert plan.exit_code == 2
    assert [told(plan)[f"{i}.jpg"][0] for i in range(3)] == ["refuse", "again", "again"]


def test_notes_are_discarded_where_the_person_says_so(run):
    assert run("render", "evening.yaml").exit_code == 0
    assert run(*RENDER, "--overwrite", "--discard-notes").exit_code == 0
    assert laid_over(read_sidecar("out/0.jpg.yaml")) == {}


def test_the_shoot_file_itself_goes_on_with_its_notes(run):
    assert run("render", "evening.yaml").exit_code == 0
    Path("evening.yaml").write_text(SHOOT.format(stops=0.2))
    changed = run("render", "evening.yaml", "--keep", "--overwrite")
    assert changed.exit_code == 0 and "1 of 1 rendered" in changed.stderr
    Path("evening.yaml").write_text(SHOOT.format(stops=0.2).replace("frames:", "# frames:"))
    assert run("render", "evening.yaml", "--keep", "--overwrite").exit_code == 0
    Path("evening.yaml").write_text(SHOOT.format(stops=0.9))
    assert run("render", "evening.yaml", "--overwrite").exit_code == 0
    Path("evening.yaml").rename("night.yaml")
    refused = run("render", "night.yaml", "--overwrite")
    assert refused.exit_code == 2 and "notes for it (frame 0)" in refused.stderr


def test_a_shoot_whose_outputs_lie_among_its_originals_takes_none_of_them_for_one(run):
    Path("evening.yaml").write_text(SHOOT.format(stops=0.7).replace("folder: out", "folder: in"))
    assert run("render", "evening.yaml").exit_code == 0
    again = run("render", "evening.yaml", "--keep")
    assert again.exit_code == 0
    assert "3 outputs of earlier runs left out" in again.stderr and "3 kept" in again.stderr
    assert run("verify", "in").stdout == "3 agree with their sidecars, 0 in trouble\n"


@pytest.mark.parametrize("ways", [[], ["--overwrite"]])
def test_an_original_that_vanishes_between_plan_and_work_loses_nothing(run, monkeypatch, ways):
    """A card pulled out: its frame fails alone, its earlier output stays, the others go on."""
    from grading.files import sidecar

    assert run(*RENDER).exit_code == 0
    before, describe = files(), sidecar.describe_original

    def vanish(path, folder):
        Path("in/1.png").unlink(missing_ok=True)
        return describe(path, folder)

    monkeypatch.setattr(sidecar, "describe_original", vanish)
    result = run(*RENDER, "--keep", *ways)
    assert result.exit_code == 1
    assert "in/1.png: cannot be read (No such file or directory)" in result.stderr
    assert "0 of 1 rendered" in result.stderr and "2 kept" in result.stderr
    assert files() == before


def test_a_read_error_midway_fails_one_frame(run, monkeypatch):
    import errno

    from grading.files import originals

    regular = originals.open_regular

    def broken(path):
        if Path(path).name == "1.png":
            raise OSError(errno.EIO, "Input/output error", str(path))
        return regular(path)

    monkeypatch.setattr(originals, "open_regular", broken)
    result = run(*RENDER)
    assert result.exit_code == 1
    assert "in/1.png: cannot be read (Input/output error)" in result.stderr
    assert sorted(path.name for path in files()) == [
        "0.jpg", "0.jpg.yaml", "2.jpg", "2.jpg.yaml",
    ]  # fmt: skip


def test_a_plan_of_many_frames_says_how_long_they_take_and_leaves_nothing(
    run, make_original, tmp_path, monkeypatch
):
    for i in range(3, 14):
        make_original(Path(f"in/{i}.png"), seed=i)
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    assert "as 4 of its frames show" in run(*RENDER, "--dry-run").stdout
    assert not Path("out").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["evening.yaml", "in", "look.yaml"]


def test_the_time_of_a_run_is_that_of_its_frames(monkeypatch):
    clock = iter([0.0, 2.0, 4.0, 6.0])
    monkeypatch.setattr("grading.shoot.pace.time.monotonic", lambda: next(clock))
    monkeypatch.setattr("grading.shoot.pace.render_all", lambda jobs: map(Outcome, jobs))
    job = Job(Path("a.dng"), None, (Target(Path("out/a.jpg"), Output()),))
    assert seconds_about([job] * 11) is None
    assert seconds_about([job] * 50) == 100
