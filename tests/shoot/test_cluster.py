"""The same batch on Dask workers: same bits, each frame once, also where a worker dies."""

import json
import os
import pickle
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import dng
from files.charts import MATRIX_D65
from grading import cli
from grading.engine.output import Output
from grading.evening.deliveries import jobs_of
from grading.evening.load import load_shoot
from grading.files import sidecar
from grading.recipe.load import load_recipe
from grading.shoot import cluster
from grading.shoot.batch import render_all
from grading.shoot.jobs import Job, Target
from grading.shoot.noise import NoiseOfRun
from truth.textures import CAMERAS, grass, ramp, site_light

DEMO = Path(__file__).parents[2] / "demo_images"


def over_the_wire(job, **ways):
    """What a worker makes of a job: all that it knows is what was pickled."""
    parcel = pickle.loads(pickle.dumps(cluster.packed(job, **ways)))
    return pickle.loads(pickle.dumps(cluster.do(parcel, [parcel.original])))


def files(folder):
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


@pytest.fixture
def job(tmp_path, make_original, recipe_file):
    targets = (
        Target(tmp_path / "out/a.jpg", Output(long_edge=48)),
        Target(tmp_path / "out/a.tif", Output("tiff")),
    )
    (tmp_path / "out").mkdir()
    return Job(make_original(tmp_path / "in/a.png"), load_recipe(recipe_file), targets)


def test_what_is_sent_is_all_of_a_recipe(tmp_path):
    """A shoot's layers, a colour decision and a camera that stand in files of their own."""
    (tmp_path / "warm.cdl").write_text(
        '<ColorDecisionList xmlns="urn:ASC:CDL:v1.01"><ColorDecision><ColorCorrection id="a">'
        "<SOPNode><Slope>1.1 1 0.9</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>"
        "</ColorCorrection></ColorDecision></ColorDecisionList>"
    )
    (tmp_path / "look.yaml").write_text("grading: 1\ntitle: Warm\ncdl: {file: warm.cdl}\n")
    (tmp_path / "evening.yaml").write_text(
        f"shoot: 1\noriginals: {DEMO}/harbour_01.dng\nlooks: [look.yaml, harbour-dusk]\n"
        "frames: {harbour_01: {exposure: {stops: 0.3}}}\n"
        "deliveries: {web: {folder: out, name: '{look}', long_edge: 64}}\n"
    )
    for job in jobs_of(load_shoot(tmp_path / "evening.yaml")):
        sent = cluster.unpacked(pickle.loads(pickle.dumps(cluster.packed(job))))
        (tmp_path / "warm.cdl").rename(tmp_path / "gone.cdl")
        assert sent.recipe.digest == job.recipe.digest
        assert sent.recipe.parts == job.recipe.parts
        assert sent.recipe.sources == job.recipe.sources
        assert "evening.yaml:4, frame harbour_01" in sent.recipe.sources.values()
        assert (sent.original, sent.targets) == (job.original, job.targets)
        (tmp_path / "gone.cdl").rename(tmp_path / "warm.cdl")


def test_a_worker_writes_the_same_bits_and_says_what_it_made(job, tmp_path):
    (expected,) = render_all([job])
    before = files(tmp_path / "out")
    for path in (tmp_path / "out").iterdir():
        path.unlink()
    outcome = over_the_wire(job)
    assert outcome.error is None and outcome.job is None
    assert files(tmp_path / "out") == before
    assert (outcome.outputs, outcome.warnings) == (expected.outputs, expected.warnings)


def test_what_a_worker_that_died_has_written_is_left(job, tmp_path, monkeypatch):
    """It was killed before it could answer; between two outputs, or after both."""
    first = over_the_wire(job)
    stamps = {path.name: path.stat().st_mtime_ns for path in (tmp_path / "out").iterdir()}
    again = over_the_wire(job)
    assert again.error is None and again.outputs == first.outputs
    assert {p.name: p.stat().st_mtime_ns for p in (tmp_path / "out").iterdir()} == stamps
    (tmp_path / "out/a.tif").unlink()
    third = over_the_wire(job)
    assert third.error is None and third.outputs == first.outputs
    assert (tmp_path / "out/a.jpg").stat().st_mtime_ns == stamps["a.jpg"]


def test_an_earlier_output_is_replaced_only_where_that_is_said(job, tmp_path, recipe_file):
    assert over_the_wire(job).error is None
    recipe_file.write_text(recipe_file.read_text().replace("stops: 0.3", "stops: 0.4"))
    changed = replace(job, recipe=load_recipe(recipe_file))
    before = files(tmp_path / "out")
    assert "exists already" in over_the_wire(changed).error
    assert files(tmp_path / "out") == before
    assert over_the_wire(changed, overwrite=True).error is None
    record = sidecar.read_sidecar(tmp_path / "out/a.jpg.yaml")
    assert record.recipe.sha256 == changed.recipe.digest


def test_a_worker_with_other_versions_makes_nothing(job, tmp_path):
    parcel = cluster.packed(job)
    libraries = parcel.engine.libraries | {"numpy": "1.0"}
    other = parcel._replace(engine=replace(parcel.engine, libraries=libraries))
    outcome = cluster.do(other, [job.original])
    assert outcome.error.startswith("a worker has numpy ")
    assert "allowed: numpy 1.0; install the same versions" in outcome.error
    assert not list((tmp_path / "out").iterdir())


def test_frames_show_each_other_their_noise_on_a_worker_too(tmp_path):
    """Texture hides the noise of the second frame; the others are not even among the jobs."""
    camera, rng, originals = CAMERAS[0], np.random.default_rng(1), []
    for number, scene in enumerate((ramp, grass, ramp)):
        originals.append(tmp_path / f"{number}.dng")
        counts = camera.record(site_light(scene(384, rng)), 800, seed=number)
        dng.write_dng(
            originals[-1], counts, white=camera.white, black=(camera.black,) * 4, model="One",
            color_matrix1=MATRIX_D65, illuminant1="D65", as_shot_neutral=(0.5, 1, 0.62),
            exif={"ISOSpeedRatings": 800},
        )  # fmt: skip
    recipe = load_recipe("evenlight")
    for name in ("here", "there"):
        (tmp_path / name).mkdir()
    here, there = (
        Job(originals[1], recipe, (Target(tmp_path / name / "1.jpg", Output()),))
        for name in ("here", "there")
    )
    list(render_all([here], noise_of_run=NoiseOfRun(originals)))
    outcome = cluster.do(pickle.loads(pickle.dumps(cluster.packed(there))), originals)
    assert outcome.error is None
    assert files(tmp_path / "there") == files(tmp_path / "here")
    record = sidecar.read_sidecar(tmp_path / "there/1.jpg.yaml")
    assert record.measured["noise"]["source"] == "shown by other frames of the camera"


def test_a_frame_that_fails_is_an_outcome(job):
    job.original.write_bytes(b"no picture")
    assert over_the_wire(job).error.startswith(f"{job.original}: ")


@pytest.fixture
def run(tmp_path, monkeypatch, make_original, recipe_file):
    monkeypatch.chdir(tmp_path)
    make_original(Path("in/a.png"))
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


COMMAND = ("render", "look.yaml", "in", "--out", "out", "--cluster")


def test_without_dask_it_says_what_to_install(run, monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    result = run(*COMMAND, "tcp://127.0.0.1:9")
    assert result.exit_code == 2
    assert "needs dask.distributed, which is not installed; pip install 'grading[cluster]'" in (
        result.stderr
    )
    assert not Path("out").exists()


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:9", "nowhere at all"])
def test_no_scheduler(run, monkeypatch, address):
    pytest.importorskip("distributed")
    monkeypatch.setattr(cluster, "PATIENCE", 0.5)
    result = run(*COMMAND, address)
    assert result.exit_code == 2, result.output
    assert f"{address}: no scheduler answers" in result.stderr


@pytest.fixture
def scheduler(tmp_path):
    """Starts workers, each a process of its own with one thread."""
    distributed = pytest.importorskip("distributed")
    started = []

    def start(count):
        local = distributed.LocalCluster(
            n_workers=count, threads_per_worker=1, processes=True, dashboard_address=None,
            local_directory=str(tmp_path / "dask"), silence_logs=50,
        )  # fmt: skip
        started.append(local)
        return local

    yield start
    for local in started:
        local.close()


def test_no_worker(run, scheduler, monkeypatch):
    monkeypatch.setattr(cluster, "PATIENCE", 1)
    result = run(*COMMAND, scheduler(0).scheduler_address)
    assert result.exit_code == 2
    assert "the scheduler has no worker; start some with `dask worker tcp://" in result.stderr


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_a_worker_that_is_killed_midway_loses_and_doubles_nothing(tmp_path, recipe_file, scheduler):
    rng = np.random.default_rng(1)
    (tmp_path / "in").mkdir()
    for i in range(24):
        picture = Image.fromarray(rng.integers(0, 255, (700, 1000, 3), np.uint8))
        picture.save(tmp_path / f"in/{i}.png")
    (tmp_path / "in/3.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    recipe = load_recipe(recipe_file)

    def jobs(folder):
        return [
            Job(path, recipe, (Target(tmp_path / folder / f"{path.stem}.jpg", Output()),))
            for path in sorted((tmp_path / "in").iterdir())
        ]

    expected = list(render_all(jobs("here")))
    local, outcomes = scheduler(2), []
    for outcome in cluster.render_on(local.scheduler_address, jobs("there")):
        outcomes.append(outcome)
        if len(outcomes) == 4:
            os.kill(local.workers[0].pid, signal.SIGKILL)
    assert sorted(o.job.original for o in outcomes) == sorted(o.job.original for o in expected)
    assert [o.job.original.name for o in outcomes if o.error] == ["3.png"]
    assert files(tmp_path / "there") == files(tmp_path / "here")


@pytest.mark.slow
def test_the_verb_on_a_cluster(run, scheduler, make_original):
    make_original(Path("in/b.png"), seed=1)
    Path("in/c.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    address = scheduler(2).scheduler_address
    result = run(*COMMAND, address, "--report", "report.json")
    assert result.exit_code == 1
    assert "2 of 3 rendered into out" in result.stderr and "1 failed" in result.stderr
    assert '"rendered": 2' in Path("report.json").read_text()
    kept = run(*COMMAND, address, "--keep")
    assert kept.exit_code == 1 and "2 kept" in kept.stderr
    assert run("verify", "out").stdout == "2 agree with their sidecars, 0 in trouble\n"


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_a_scheduler_that_is_lost_ends_the_run_with_one_message(run, tmp_path, make_original):
    """A scheduler and two workers, as a person starts them."""
    pytest.importorskip("distributed")
    for i in range(30):
        make_original(Path(f"in/{i}.png"), 900, 600, seed=i)

    def start(*words):
        command = [sys.executable, "-m", "dask", *words, "--no-dashboard"]
        return subprocess.Popen(command, stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)

    known = tmp_path / "scheduler.json"
    local = ("--host", "127.0.0.1", "--port", "0")
    scheduler = start("scheduler", *local, "--scheduler-file", str(known))
    deadline = time.monotonic() + 60
    while not known.exists():
        assert time.monotonic() < deadline
        time.sleep(0.1)
    address = json.loads(known.read_text())["address"]
    workers = start("worker", address, "--nworkers", "2", "--nthreads", "1")
    try:
        words = [sys.executable, "-m", "grading", *COMMAND, address, "--report", "r.json"]
        process = subprocess.Popen(words, stderr=subprocess.PIPE, text=True)
        while len(list(Path("out").glob("*.jpg"))) < 3:
            assert time.monotonic() < deadline and process.poll() is None
            time.sleep(0.01)
        scheduler.kill()
        said = process.communicate(timeout=60)[1]
    finally:
        scheduler.kill()
        workers.terminate()
        workers.wait(30)
    assert process.returncode == 1
    assert said.count("the cluster gave up (") == 1, said
    assert "1 failed, " in said and " not begun" in said
    assert json.loads(Path("r.json").read_text())["outputs"]["failed"] == 1
    assert run("render", "look.yaml", "in", "--out", "out", "--keep").exit_code == 0
    assert run("verify", "out").stdout == "31 agree with their sidecars, 0 in trouble\n"
