"""`grading calibrate`, from raw files to a picture made with the camera file, and its refusals."""

from dataclasses import replace
from pathlib import Path

import imagecodecs
import numpy as np
import pytest
from click.testing import CliRunner

from calibrate.photographs import Photograph, Pose, write_chart
from grading import cli
from grading.calibrate.chart import CENTRES, EDITIONS
from grading.calibrate.homography import project
from grading.cli.calibrate import MADE
from grading.files.sidecar import read_sidecar
from grading.recipe.cameras import read_camera

SHOT = Photograph(Pose(turn=175, tilt=(10, 8)), (300, 450), noise=1e-5, fall=0.05)


@pytest.fixture(scope="module")
def shots(tmp_path_factory):
    """Raw files by day and by lamp, one without a chart, and one of another camera."""
    folder = tmp_path_factory.mktemp("shots")
    write_chart(folder / "day.dng", SHOT)
    write_chart(folder / "lamp.dng", SHOT, kelvin=2900.0)
    write_chart(folder / "clipped.dng", replace(SHOT, white=1.3))
    write_chart(folder / "other.dng", replace(SHOT, size=(120, 180)), model="Other")
    return folder


@pytest.fixture
def run(tmp_path, monkeypatch, shots):
    monkeypatch.chdir(tmp_path)
    for path in shots.iterdir():
        Path(path.name).hardlink_to(path)
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


def test_two_lights_make_a_camera_file_a_page_and_a_table(run):
    result = run("calibrate", "day.dng", "lamp.dng", "--out", "new/camera.yaml")
    assert result.exit_code == 0, result.stderr
    assert result.stderr.endswith("new/camera.yaml and camera.html written\n")
    assert sorted(path.name for path in Path("new").iterdir()) == ["camera.html", "camera.yaml"]
    lines = result.stdout.splitlines()
    assert lines[0].startswith("day.dng: Invented Camera, ")
    assert [line.split()[0] for line in lines if line[:2] != "  "] == ["day.dng:", "lamp.dng:"]
    camera = read_camera(Path("new/camera.yaml"))
    means = [light.after.mean for light in camera.lights]
    assert [float(line.split()[2]) for line in lines if line.split()[0] == "mean"] == means[::-1]
    assert max(means) < 0.5 < 2 < min(light.before.mean for light in camera.lights)


def test_a_recipe_uses_it_and_its_sidecar_needs_it_no_more(run):
    assert run("calibrate", "day.dng", "--out", "camera.yaml").exit_code == 0
    Path("look.yaml").write_text("grading: 1\nwhite_balance: {cameras: [camera.yaml]}\n")
    Path("plain.yaml").write_text("grading: 1\n")
    for look in ("look", "plain"):
        done = run("render", f"{look}.yaml", "day.dng", "--out", look, "--format", "tiff")
        assert done.exit_code == 0, done.stderr
    assert Path("look/day.tif").read_bytes() != Path("plain/day.tif").read_bytes()
    stated = read_sidecar(Path("look/day.tif.yaml")).recipe.resolved["white_balance"]
    assert stated["calibrations"][0]["lights"][0]["frame"]["name"] == "day.dng"
    picture = Path("look/day.tif")
    picture.unlink()
    Path("camera.yaml").unlink()
    redone = run("redo", "look/day.tif.yaml")
    assert redone.stdout == "look/day.tif: same bits, written\n", redone.stderr


def test_frames_of_other_cameras_are_reported_and_the_rest_is_rendered(run):
    assert run("calibrate", "day.dng", "--out", "camera.yaml").exit_code == 0
    Path("look.yaml").write_text("grading: 1\nwhite_balance: {cameras: [camera.yaml]}\n")
    done = run("render", "look.yaml", "day.dng", "other.dng", "--out", "out")
    assert done.exit_code == 1
    assert "other.dng: made by Invented Other, for which the recipe names no camera" in done.stderr
    assert Path("out/day.jpg").exists()


def test_corners_stand_in_for_the_search(run, monkeypatch):
    monkeypatch.setattr("grading.calibrate.light.find_chart", None)
    corners = [(-0.435, -0.435), (5.435, -0.435), (5.435, 3.435), (-0.435, 3.435)]
    x, y = (project(SHOT.pose.place(450), corners) / (450, 300)).T
    text = " ".join(f"{a:.3f},{b:.3f}" for a, b in zip(x, y, strict=True))
    result = run("calibrate", "day.dng", "--out", "camera.yaml", "--corners", text)
    assert result.exit_code == 0, result.stderr
    assert read_camera(Path("camera.yaml")).lights[0].after.mean < 0.5


def test_two_cameras_agree_on_a_light_that_is_stated_for_both(run):
    """Their files would call it by two names; stated in kelvin, it is neutral to each."""
    shot = replace(SHOT, size=(240, 360))
    for model, stray in (("One", 0.0), ("Two", 0.15)):
        write_chart(f"{model}.dng", shot, stray=stray, model=model)
        done = run("calibrate", f"{model}.dng", "--out", f"{model}.yaml", "--light", "5200,0.002")
        assert done.exit_code == 0, done.stderr
        light = read_camera(Path(f"{model}.yaml")).lights[0]
        assert (light.kelvin, light.duv) == (5200.0, 0.002)
    balance = "white_balance: {kelvin: 5200, duv: 0.002, cameras: [One.yaml, Two.yaml]}"
    Path("look.yaml").write_text(f"grading: 1\n{balance}\n")
    assert run("render", "look.yaml", "One.dng", "Two.dng", "--out", "out").exit_code == 0
    pictures = [imagecodecs.imread(f"out/{model}.jpg").astype(int) for model in ("One", "Two")]
    assert np.abs(pictures[0] - pictures[1]).mean() < 0.5
    stated = [read_camera(Path(f"{model}.yaml")).lights[0].matrix for model in ("One", "Two")]
    assert np.array(stated[0]) == pytest.approx(np.array(stated[1]), abs=2e-3)


def test_an_older_chart_is_measured_against_its_own_colours(run):
    for made in MADE:
        result = run("calibrate", "day.dng", "--out", f"{made}.yaml", "--made", made)
        assert result.exit_code == 0
    newer, older = (read_camera(Path(f"{made}.yaml")).lights[0].after.mean for made in MADE)
    assert newer + 0.3 < older  # it is a newer one


def test_choices_are_those_of_the_chart():
    assert tuple(EDITIONS) == MADE
    assert len(CENTRES) == 24


FOUR = "0.1,0.1 0.9,0.1 0.9,0.9 0.1,0.9"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (["day.dng"], "Missing option '--out'"),
        (["day.dng", "--out", "camera.json"], "camera.json: a camera file ends in .yaml or .yml"),
        (["day.dng"] * 3 + ["--out", "c.yaml"], "3 frames; allowed: one, or two of different"),
        (["day.dng", "lamp.dng", "--out", "c.yaml", "--corners", FOUR],
         "1 times --corners for 2 frames; state it for each of them, in their order"),
        (["day.dng", "lamp.dng", "--out", "c.yaml", "--light", "5000"], "1 times --light for 2"),
        (["day.dng", "--out", "c.yaml", "--light", "500"], "'500' is not a light; write kelvin"),
        (["day.dng", "--out", "c.yaml", "--light", "5000,0.2"], "'5000,0.2' is not a light"),
        (["day.dng", "--out", "c.yaml", "--light", "1,2,3"], "'1,2,3' is not a light"),
        (["day.dng", "--out", "c.yaml", "--corners", "1,2 3"], "'1,2 3' is not four places"),
        (["day.dng", "--out", "c.yaml", "--corners", FOUR.replace("0.9", "9")], "not four places"),
        (["day.dng", "--out", "c.yaml", "--corners", "0,0 0,0 1,1 1,0"], "is not four places"),
        (["day.dng", "--out", "c.yaml", "--corners", "0,nan 0,1 1,1 1,0"], "is not four places"),
        (["none.dng", "--out", "c.yaml"], "none.dng: cannot be read (No such file or directory)"),
        (["clipped.dng", "--out", "c.yaml"], "patches are clipped; allowed: no patch at 0.98"),
        (["day.dng", "day.dng", "--out", "c.yaml"], "is 0 mired from that of day.dng"),
        (["day.dng", "other.dng", "--out", "c.yaml"], "other.dng: made by Invented Other"),
    ],
)  # fmt: skip
def test_what_is_no_good_is_refused_and_nothing_is_written(run, arguments, message):
    result = run("calibrate", *arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not list(Path().glob("c*.yaml")) and not list(Path().glob("*.html"))
