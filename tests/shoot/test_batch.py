"""Overlap of neighbouring frames, bounds, and failures that stay single."""

import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import dng
from files.charts import MATRIX_A, MATRIX_D65
from grading.engine.output import Output
from grading.errors import OriginalError
from grading.files import sidecar
from grading.recipe.load import load_recipe, recipe_from_mapping
from grading.shoot import batch
from grading.shoot.batch import Done, overlap, render_all
from grading.shoot.earlier import earlier_output
from grading.shoot.jobs import Job
from grading.shoot.redo import redo
from planning import planned

JOBS = [Job(Path(f"{i}.dng"), None, ()) for i in range(6)]


def test_neighbours_overlap():
    """The next frame is read, and the last one written, while one is graded."""
    reading_second, writing_first = threading.Event(), threading.Event()
    graded = []

    def read(job):
        if job is JOBS[1]:
            reading_second.set()
        return job

    def grade(job, frame):
        assert job is not JOBS[0] or reading_second.wait(5)
        assert job is not JOBS[1] or writing_first.wait(5)
        graded.append(job)
        return job

    def finish(job, frame, picture):
        assert job is frame is picture
        if job is JOBS[0]:
            writing_first.set()
        return Done()

    outcomes = list(overlap(JOBS, read, grade, finish))
    assert graded == JOBS
    assert [outcome.job for outcome in outcomes] == JOBS
    assert not any(outcome.error for outcome in outcomes)


@pytest.fixture
def green_lamp(tmp_path):
    """A raw whose as-shot white is that of no light with a temperature."""
    original = tmp_path / "in" / "lamp.dng"
    original.parent.mkdir()
    codes = np.random.default_rng(1).integers(600, 9000, (96, 128), np.uint16)
    dng.write_dng(
        original, codes, white=16383, black=(512,) * 4,
        color_matrix1=MATRIX_A, illuminant1="A", color_matrix2=MATRIX_D65, illuminant2="D65",
        as_shot_neutral=(0.002, 1, 0.003),
    )  # fmt: skip
    return original


@pytest.mark.parametrize(
    ("keys", "starts"),
    [
        ({}, ["the as-shot white is that of no light"]),
        (
            {"white_balance": {"kelvin": 1900}},
            ["the as-shot white is that of no light", "the light that the recipe states, 1900 K"],
        ),
    ],
)
def test_a_white_far_from_all_is_rendered_with_a_warning(green_lamp, tmp_path, keys, starts):
    recipe = recipe_from_mapping({"grading": 1, **keys}, "look")
    (job,) = planned({green_lamp: recipe}, tmp_path / "out", Output("tiff", "bt2020"))
    output = job.targets[0].path
    (outcome,) = render_all([job])
    assert outcome.error is None
    assert len(outcome.warnings) == len(starts)
    for sentence, start in zip(outcome.warnings, starts, strict=True):
        assert sentence.startswith(start)
    stages = sidecar.read_sidecar(sidecar.sidecar_path(output)).recipe.resolved
    expected = {"kelvin": 1900.0, "duv": 0.0} if keys else {"as_shot": True}
    assert stages["white_balance"] == expected
    before = output.read_bytes()
    output.unlink()
    assert redo(sidecar.sidecar_path(output)) == (output, True)
    assert output.read_bytes() == before


def test_few_frames_are_in_memory_however_slow_the_disk():
    alive, largest, lock = 0, 0, threading.Lock()

    def read(job):
        nonlocal alive, largest
        with lock:
            alive += 1
            largest = max(largest, alive)
        return job

    def finish(job, frame, picture):
        nonlocal alive
        time.sleep(0.02)
        with lock:
            alive -= 1
        return Done()

    assert len(list(overlap(JOBS * 3, read, lambda job, frame: frame, finish))) == 18
    assert largest <= 4


@pytest.mark.parametrize("step", ["read", "grade", "finish"])
@pytest.mark.parametrize(
    "error", [OriginalError("damaged", place="2.dng"), ZeroDivisionError("no")]
)
def test_one_bad_frame_does_not_stop_the_rest(step, error):
    def attempt(name, job, result):
        if name == step and job is JOBS[2]:
            raise error
        return result

    outcomes = list(
        overlap(
            JOBS,
            lambda job: attempt("read", job, job),
            lambda job, frame: attempt("grade", job, job),
            lambda job, frame, picture: attempt("finish", job, Done()),
        )
    )
    errors = [outcome.error for outcome in outcomes]
    assert [bool(each) for each in errors] == [False, False, True, False, False, False]
    assert errors[2] in (
        "2.dng: damaged",
        "2.dng: failed unexpectedly (ZeroDivisionError: no)",
    )


def test_an_interruption_gets_through_and_what_is_being_written_is_finished():
    finished = []

    def grade(job, frame):
        if job is JOBS[2]:
            raise KeyboardInterrupt
        return job

    def finish(job, frame, picture):
        time.sleep(0.05)
        finished.append(job)
        return Done()

    outcomes = []
    with pytest.raises(KeyboardInterrupt):
        outcomes.extend(overlap(JOBS, lambda job: job, grade, finish))
    assert finished == JOBS[:2]
    assert [outcome.job for outcome in outcomes] == JOBS[:2]


def test_an_interruption_while_a_frame_is_being_written_loses_no_outcome(monkeypatch):
    """It comes to the thread that waits for the writer, when the next frame is graded already."""
    finished, waited = [], 0

    def finish(job, frame, picture):
        finished.append(job)
        return Done()

    def interrupted(*arguments):
        nonlocal waited
        waited += 1
        if waited == 2:
            raise KeyboardInterrupt
        return outcome(*arguments)

    outcome = batch._outcome
    monkeypatch.setattr(batch, "_outcome", interrupted)
    outcomes = []
    with pytest.raises(KeyboardInterrupt):
        outcomes.extend(overlap(JOBS, lambda job: job, lambda job, frame: job, finish))
    assert [each.job for each in outcomes] == finished


def test_no_jobs():
    assert list(overlap([], None, None, None)) == []


@pytest.mark.parametrize("file_format", ["jpeg", "tiff"])
def test_outputs_and_sidecars(tmp_path, make_original, recipe_file, file_format):
    originals = [make_original(tmp_path / f"{i}.png", seed=i) for i in range(3)]
    before = [path.read_bytes() for path in originals]
    recipe = load_recipe(recipe_file)
    output = Output(file_format, long_edge=48)
    jobs = planned(dict.fromkeys(originals, recipe), tmp_path / "new" / "out", output)
    outcomes = list(render_all(jobs))
    assert [outcome.error for outcome in outcomes] == [None] * 3
    assert [path.read_bytes() for path in originals] == before
    for job in jobs:
        output = job.targets[0].path
        place = sidecar.sidecar_path(output)
        record = sidecar.read_sidecar(place)
        sidecar.check_file(output, record.output, place, "")
        sidecar.check_file(job.original, record.original, place, "")
        assert (record.output.width, record.output.height) == (48, 32)
        assert record.recipe.sha256 == recipe.digest
        assert record.recipe.resolved["exposure"] == {"stops": 0.3}
        assert record.recipe.resolved["white_balance"].keys() >= {"kelvin", "duv"}
        assert record.measured["clipping"].keys() == {"black", "white", "outside"}
    assert len(list((tmp_path / "new" / "out").iterdir())) == 6


def test_a_frame_that_cannot_be_opened(tmp_path, make_original, recipe_file):
    bad = tmp_path / "1.dng"
    bad.write_bytes(b"no picture")
    originals = [make_original(tmp_path / "0.png"), bad, make_original(tmp_path / "2.png")]
    jobs = planned(dict.fromkeys(originals, load_recipe(recipe_file)), tmp_path / "out")
    outcomes = list(render_all(jobs))
    assert [outcome.error is None for outcome in outcomes] == [True, False, True]
    assert outcomes[1].error.startswith(f"{bad}: ")
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "0.jpg", "0.jpg.yaml", "2.jpg", "2.jpg.yaml",
    ]  # fmt: skip


def test_an_output_without_its_sidecar_is_not_left(tmp_path, make_original, recipe_file):
    """It would pass for an original, and a later run would refuse to replace it."""
    originals = [make_original(tmp_path / f"{i}.png") for i in range(2)]
    jobs = planned(dict.fromkeys(originals, load_recipe(recipe_file)), tmp_path / "out")
    in_the_way = sidecar.sidecar_path(jobs[0].targets[0].path)
    in_the_way.mkdir(parents=True)
    outcomes = list(render_all(jobs))
    assert outcomes[0].error.startswith(f"{in_the_way}: exists and is no sound sidecar")
    assert outcomes[1].error is None
    assert not jobs[0].targets[0].path.exists()
    assert jobs[1].targets[0].path.exists()


def test_a_picture_that_its_format_cannot_hold_is_told_by_name(
    tmp_path, make_original, recipe_file
):
    original = make_original(tmp_path / "wide.png", width=65501, height=1)
    jobs = planned({original: load_recipe(recipe_file)}, tmp_path / "out")
    (outcome,) = render_all(jobs)
    assert outcome.error.startswith(f"{jobs[0].targets[0].path}: a JPEG of 65501 x 1 pixels")


def _start(tmp_path, recipe_file, count):
    """A batch in a process of its own, stopped as soon as it has written two outputs."""
    rng = np.random.default_rng(1)
    folder = tmp_path / "in"
    folder.mkdir()
    for i in range(count):
        Image.fromarray(rng.integers(0, 255, (500, 700, 3), np.uint8)).save(folder / f"{i}.png")
    out = tmp_path / "out"
    command = [sys.executable, "-m", "grading", "render", str(recipe_file), str(folder)]
    process = subprocess.Popen([*command, "--out", str(out)], stderr=subprocess.PIPE, text=True)
    deadline = time.monotonic() + 60
    while len(list(out.glob("*.jpg"))) < 2 and process.poll() is None:
        assert time.monotonic() < deadline
        time.sleep(0.002)
    return process, out


def _assert_whole(out, count):
    outputs = sorted(out.glob("*.jpg"))
    assert 2 <= len(outputs) < count
    for path in outputs:
        with Image.open(path) as picture:
            picture.load()
            assert picture.size == (700, 500)
        assert earlier_output(path).whole


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_killing_a_batch_leaves_no_partial_output(tmp_path, recipe_file):
    process, out = _start(tmp_path, recipe_file, 40)
    process.kill()
    process.communicate()
    _assert_whole(out, 40)


@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
@pytest.mark.usefixtures("interruptible")
def test_stopping_a_batch_leaves_everything_whole_and_says_so(tmp_path, recipe_file):
    process, out = _start(tmp_path, recipe_file, 40)
    process.send_signal(signal.SIGINT)
    errors = process.communicate(timeout=60)[1]
    assert process.returncode == 130
    assert "stopped; every file there is whole" in errors
    assert "Traceback" not in errors
    _assert_whole(out, 40)
    made = len(list(out.glob("*.jpg")))
    assert f"\n{made} of 40 rendered into " in f"\n{errors}"
    assert made == len(list(out.glob("*.jpg.yaml")))
    assert not list(out.glob(".*"))


def test_a_stated_number_of_threads_is_that_of_encoding_too(
    tmp_path, make_original, recipe_file, monkeypatch
):
    """JPEG encoding once took all processors, whatever was stated."""
    from grading.files.formats import jpegstrips

    asked, pool = [], jpegstrips.ThreadPoolExecutor
    monkeypatch.setattr(
        jpegstrips, "ThreadPoolExecutor", lambda workers: asked.append(workers) or pool(workers)
    )
    original = make_original(tmp_path / "a.png")
    jobs = planned({original: load_recipe(recipe_file)}, tmp_path / "out")
    (outcome,) = render_all(jobs, workers=1)
    assert outcome.error is None and asked == [1]
