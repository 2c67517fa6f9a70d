"""Frames that cannot tell their noise take it from the others of their run."""

from itertools import permutations
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import dng
from files.charts import MATRIX_D65
from grading.develop.noise_source import LARGEST_WELL
from grading.engine.output import Output
from grading.errors import SidecarError
from grading.files.originals import open_frame
from grading.files.sidecar import read_sidecar, sidecar_path
from grading.frame import Capture, Noise
from grading.recipe.load import recipe_from_mapping
from grading.shoot import noise as module
from grading.shoot.batch import render_all
from grading.shoot.jobs import Job, Target
from grading.shoot.keep import what_differs
from grading.shoot.noise import NoiseOfRun
from grading.shoot.redo import redo
from planning import planned
from truth.textures import CAMERAS, grass, ramp, site_light

CAMERA, SIZE = CAMERAS[0], 384
OUTPUT = Output("tiff")
RECIPE = recipe_from_mapping({"grading": 1, "title": "plain"}, "plain")


@pytest.fixture(scope="module")
def scenes():
    rng = np.random.default_rng(1)
    return {"smooth": site_light(ramp(SIZE, rng)), "grass": site_light(grass(SIZE, rng))}


@pytest.fixture
def shoot(tmp_path, scenes):
    """Writes raws of scenes at ISO speeds, in the order given, and returns their paths."""

    def write(*frames, model="One", first=0):
        paths = []
        for number, (scene, iso) in enumerate(frames, first):
            path = tmp_path / f"{number:02d}.dng"
            counts = CAMERA.record(scenes[scene], iso, seed=number)
            dng.write_dng(
                path, counts, white=CAMERA.white, black=(CAMERA.black,) * 4, model=model,
                color_matrix1=MATRIX_D65, illuminant1="D65", as_shot_neutral=(0.5, 1, 0.62),
                exif={"ISOSpeedRatings": iso},
            )  # fmt: skip
            paths.append(path)
        return paths

    return write


def settled(paths, which):
    return NoiseOfRun(paths).settled(open_frame(which)).facts


def is_near(noise, iso, tolerance=0.15):
    true = Noise(*CAMERA.noise(iso))
    return noise.variance(0.18) == pytest.approx(true.variance(0.18), rel=tolerance)


def test_the_frames_are_as_the_tests_want_them(shoot):
    smooth, grass = (open_frame(path).facts for path in shoot(("smooth", 800), ("grass", 800)))
    assert smooth.noise_source.sure and is_near(smooth.noise, 800)
    assert not grass.noise_source.sure
    assert grass.noise_source.measured.noise.variance(0.18) > 5 * smooth.noise.variance(0.18)


def test_grass_has_the_noise_of_the_frames_around_it(shoot):
    paths = shoot(("smooth", 800), ("grass", 800), ("smooth", 800), ("smooth", 800))
    facts = settled(paths, paths[1])
    assert is_near(facts.noise, 800)
    assert facts.noise_source.name == "shown by other frames of the camera"
    assert facts.noise_source.shown.frames == 3


@pytest.mark.parametrize(("iso", "told"), [(800, 1), (1600, 1), (3200, 1), (6400, 0)])
def test_a_neighbouring_speed_tells_too(shoot, iso, told):
    """Gain rises as the speed does; from two stops away no more is taken."""
    paths = shoot(("grass", 800), ("smooth", iso))
    facts = settled(paths, paths[0])
    assert (facts.noise_source.shown is not None) == told
    if told:
        assert is_near(facts.noise, 800)
    else:
        assert facts.noise.gain == 8 / LARGEST_WELL


def test_the_nearest_speed_tells_first(shoot):
    paths = shoot(("grass", 800), ("smooth", 1600), ("smooth", 800), ("smooth", 400))
    assert settled(paths, paths[0]).noise_source.shown.frames == 1


def test_another_camera_tells_nothing(shoot):
    paths = shoot(("grass", 800)) + shoot(("smooth", 800), model="Two", first=1)
    assert settled(paths, paths[0]).noise_source.name == "bound by the ISO speed"


def test_neither_order_of_work_nor_what_was_opened_changes_a_number(shoot):
    paths = shoot(*[("smooth", 800), ("grass", 800)] * 3)
    expected = [settled(paths, path).noise for path in paths]
    for order in list(permutations(paths))[100::301]:
        run = NoiseOfRun(paths)
        found = {path: run.settled(open_frame(path)).facts.noise for path in order}
        assert [found[path] for path in paths] == expected


def test_no_other_is_opened_while_frames_are_sure_and_each_once(shoot, monkeypatch):
    paths = shoot(*[("smooth", 800)] * 5, ("grass", 800), ("grass", 800))
    frames, opened = {path: open_frame(path) for path in paths}, []
    monkeypatch.setattr(
        module, "open_frame", lambda path, **_: opened.append(path) or frames[path]
    )
    run = NoiseOfRun(paths)
    run.settled(frames[paths[0]])
    assert opened == []
    run.settled(frames[paths[5]])
    run.settled(frames[paths[6]])
    assert opened == [paths[4], paths[6], paths[3], paths[2]]


def test_a_damaged_neighbour_and_a_jpeg_are_passed_over(shoot, make_original):
    paths = shoot(("grass", 800), ("smooth", 800), ("smooth", 800))
    paths[1].write_bytes(paths[1].read_bytes()[:5000])
    jpeg = make_original(paths[0].with_name("00.jpg"))
    assert settled([jpeg, *paths], paths[0]).noise_source.shown.frames == 1


def test_no_speed_no_neighbours(shoot):
    paths = shoot(("smooth", 800))
    assert NoiseOfRun(paths).shown(paths[0], Capture(model="One")) is None


@pytest.fixture
def run(shoot, tmp_path):
    """Outputs of grass between smooth frames, with the jobs."""
    paths = shoot(("smooth", 6400), ("grass", 6400), ("smooth", 6400))
    jobs = planned(dict.fromkeys(paths, RECIPE), tmp_path / "out", OUTPUT)
    assert not any(outcome.error for outcome in render_all(jobs))
    return jobs


def record_of(job):
    return read_sidecar(sidecar_path(job.targets[0].path))


def test_a_sidecar_says_where_its_noise_is_from(run):
    smooth, grass = (record_of(job).measured["noise"] for job in run[:2])
    assert smooth["source"] == "measured in this frame"
    assert smooth.keys() == {"gain", "offset", "source", "flat"} and smooth["flat"] > 0.3
    assert grass["source"] == "shown by other frames of the camera"
    assert grass["shown"]["frames"] == 2
    assert grass["measured"]["gain"] > 1.5 * grass["gain"]


def test_redo_needs_no_other_frame(run):
    job = run[1]
    before = job.targets[0].path.read_bytes()
    for path in (run[0].original, run[2].original, job.targets[0].path):
        path.unlink()
    assert redo(sidecar_path(job.targets[0].path), workers=1) == (job.targets[0].path, True)
    assert job.targets[0].path.read_bytes() == before


def test_a_frame_alone_has_other_bits_and_says_so(run, tmp_path):
    alone = Job(run[1].original, RECIPE, (Target(tmp_path / "alone.tif", OUTPUT),))
    list(render_all([alone]))
    assert record_of(alone).measured["noise"]["source"] == "bound by the ISO speed"
    assert alone.targets[0].path.read_bytes() != run[1].targets[0].path.read_bytes()


def differs(job, originals):
    return what_differs(job, job.targets[0], record_of(job), NoiseOfRun(originals))


def test_keep_sees_that_other_frames_would_show_other_noise(run):
    originals = [job.original for job in run]
    assert [differs(job, originals) for job in run] == [None, None, None]
    fewer = originals[1:]
    assert "other frames of the camera" in differs(run[1], fewer)
    assert differs(run[2], fewer) is None


def test_what_is_kept_still_shows_its_noise(run, tmp_path):
    """Only the grass is made again; the smooth frames are kept, and asked."""
    before = run[1].targets[0].path.read_bytes()
    for path in (run[1].targets[0].path, sidecar_path(run[1].targets[0].path)):
        path.unlink()
    originals = [job.original for job in run]
    list(render_all([run[1]], noise_of_run=NoiseOfRun(originals)))
    assert run[1].targets[0].path.read_bytes() == before


@pytest.mark.parametrize(
    "shown",
    [7, {"gain": 1e-4}, {"gain": "x", "offset": 0.0, "frames": 1},
     {"gain": -1e-4, "offset": 0.0, "frames": 1}, {"gain": float("nan"), "offset": 0, "frames": 1}],
)  # fmt: skip
def test_what_is_no_noise_is_refused(shown):
    record = SimpleNamespace(measured={"noise": {"gain": 1e-4, "offset": 0.0, "shown": shown}})
    with pytest.raises(SidecarError, match="a gain and an offset, neither negative"):
        module.shown_in(record, Path("a.tif.yaml"))


def test_a_record_of_an_earlier_version_shows_nothing():
    for measured in ({}, {"noise": {"gain": 1e-4, "offset": 0.0}}, {"noise": 7}):
        assert module.shown_in(SimpleNamespace(measured=measured), Path("a.tif.yaml")) is None
