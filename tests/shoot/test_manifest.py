"""Lists of checksums, read by the tools that receivers have."""

import hashlib
import shutil
import subprocess
from dataclasses import replace

import pytest
from click.testing import CliRunner

from grading.cli import main
from grading.engine.output import Output
from grading.errors import OutputError
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.jobs import jobs_in_folder
from grading.shoot.manifest import NAME, check_manifests, write_manifests

NAMES = ("sea 1.png", "sea 10.png", "sea 2.png", "Zoë's.png", "back\\slash.png", "line\nbreak.png")


@pytest.fixture
def jobs(tmp_path, make_original, recipe_file):
    """Jobs whose outputs are made and asked to be listed."""
    recipe = load_recipe(recipe_file)
    paths = [make_original(tmp_path / "in" / name, 16, 16, n) for n, name in enumerate(NAMES)]
    made = jobs_in_folder(dict.fromkeys(paths, recipe), tmp_path / "out", Output())
    made = [
        replace(job, targets=tuple(replace(t, manifest=True) for t in job.targets)) for job in made
    ]
    assert not any(outcome.error for outcome in render_all(made))
    return made


def checked(folder):
    command = ["sha256sum", "--check", "--strict", NAME]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True)


@pytest.mark.skipif(not shutil.which("sha256sum"), reason="needs sha256sum of GNU coreutils")
def test_the_common_tool_checks_a_folder(jobs, tmp_path):
    folder = tmp_path / "out"
    assert list(write_manifests(jobs)) == [(folder / NAME, 6)]
    found = checked(folder)
    assert found.returncode == 0, found.stderr
    assert found.stdout.count(": OK\n") == 6 and not found.stderr
    (folder / "sea 1.jpg").write_bytes(b"other")
    found = checked(folder)
    assert found.returncode == 1 and "sea 1.jpg: FAILED" in found.stdout


def test_lines_are_in_natural_order_with_the_digests_of_the_files(jobs, tmp_path):
    list(write_manifests(jobs))
    lines = (tmp_path / "out" / NAME).read_bytes().split(b"\n")
    listed = [line[66:].decode() for line in lines[1:-1] if not line.startswith(b"\\")]
    assert [name for name in listed if name.startswith("sea")] == [
        "sea 1.jpg", "sea 2.jpg", "sea 10.jpg",
    ]  # fmt: skip
    for name in listed:
        digest = hashlib.sha256((tmp_path / "out" / name).read_bytes()).hexdigest()
        assert f"{digest}  {name}".encode() in lines


def test_ours_is_replaced_and_a_persons_never(jobs, tmp_path):
    place = tmp_path / "out" / NAME
    list(write_manifests(jobs))
    whole = place.read_bytes()
    check_manifests(jobs)
    (place.parent / "sea 2.jpg").unlink()
    assert list(write_manifests(jobs[:2])) == [(place, 5)]
    assert place.read_bytes() != whole
    whole = place.read_bytes()
    for theirs in (whole + b"0" * 64 + b"  more.jpg\n", whole[:-1], b"", b"# mine\n"):
        place.write_bytes(theirs)
        for attempt in (check_manifests, lambda jobs: list(write_manifests(jobs))):
            with pytest.raises(OutputError, match="is no list of checksums as this engine wrote"):
                attempt(jobs)
        assert place.read_bytes() == theirs
    place.unlink()
    place.mkdir()
    with pytest.raises(OutputError):
        check_manifests(jobs)


def test_a_run_of_a_shoot_writes_it_when_it_ends_whole(tmp_path, make_original, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for n in range(3):
        make_original(tmp_path / "card" / f"{n}.png", 32, 24, n)
    (tmp_path / "e.yaml").write_text(
        "shoot: 1\noriginals: card\nlooks: [evenlight]\n"
        "deliveries: {a: {folder: a, manifest: true}, b: {folder: b}}\n"
    )
    broken = (tmp_path / "card" / "2.png").read_bytes()
    (tmp_path / "card" / "2.png").write_bytes(broken[:60])
    first = CliRunner().invoke(main, ["render", "e.yaml"])
    assert first.exit_code == 1 and not (tmp_path / "a" / NAME).exists()
    (tmp_path / "card" / "2.png").write_bytes(broken)
    second = CliRunner().invoke(main, ["render", "e.yaml", "--keep"])
    assert second.exit_code == 0 and "a/SHA256SUMS: checksums of 3 outputs" in second.stderr
    assert not (tmp_path / "b" / NAME).exists()
    again = CliRunner().invoke(main, ["render", "e.yaml", "--keep"])
    assert again.exit_code == 0 and "3 outputs" in again.stderr
    (tmp_path / "a" / NAME).write_text("mine")
    refused = CliRunner().invoke(main, ["render", "e.yaml", "--overwrite"])
    assert refused.exit_code == 2 and "a/SHA256SUMS: exists and is no list" in refused.stderr
    assert (tmp_path / "a" / NAME).read_text() == "mine"


def test_two_runs_into_one_folder_make_one_list(jobs, tmp_path):
    place = tmp_path / "out" / NAME
    assert list(write_manifests(jobs[:2])) == [(place, 2)]
    assert list(write_manifests(jobs[2:])) == [(place, 6)]
    listed = place.read_bytes()
    assert list(write_manifests(jobs)) == [(place, 6)] and place.read_bytes() == listed
