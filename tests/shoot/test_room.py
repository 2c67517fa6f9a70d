"""Room on the disk: estimated, refused where it cannot do, and running out midway."""

import errno
import os
import shutil
from collections import namedtuple
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from grading import cli
from grading.engine.output import Output
from grading.errors import DiskFull
from grading.files import atomic
from grading.files.formats.registry import FORMATS
from grading.files.originals.stated_size import stated_size
from grading.recipe.load import recipe_from_mapping
from grading.shoot import room
from grading.shoot.batch import render_all
from grading.shoot.jobs import jobs_in_folder

DEMO = Path(__file__).parents[2] / "demo_images"
RECIPE = recipe_from_mapping({"grading": 1}, "look")
Usage = namedtuple("Usage", "total used free")


@pytest.fixture
def free(monkeypatch):
    """States how many bytes are free on every disk."""

    def state(count):
        monkeypatch.setattr(shutil, "disk_usage", lambda path: Usage(10**12, 0, count))

    return state


def jobs(originals, folder, output):
    return jobs_in_folder(dict.fromkeys(originals, RECIPE), folder, output)


def test_sizes_by_the_header(tmp_path, make_original):
    assert stated_size(DEMO / "harbour_01.dng") == (1536, 1024)
    assert stated_size(make_original(tmp_path / "a.png", 50, 40)) == (50, 40)
    (tmp_path / "b.png").write_bytes(b"no picture")
    assert stated_size(tmp_path / "b.png") is None
    assert stated_size(tmp_path / "c.dng") is None
    os.mkfifo(tmp_path / "d.dng")
    assert stated_size(tmp_path / "d.dng") is None


def test_distortion_stated_in_numbers_counts(tmp_path, make_original):
    numbers = {"distortion": {"radial": [1.0, 0.0, 0.3]}}
    look = recipe_from_mapping({"grading": 1, "lens": {"numbers": numbers}}, "look")
    original = make_original(tmp_path / "a.png", 90, 60)
    (found,) = room.rooms(jobs_in_folder({original: look}, tmp_path / "o", Output("tiff")))
    (done,) = render_all(jobs_in_folder({original: look}, tmp_path / "o", Output("tiff")))
    (made,) = done.outputs
    assert made.width < 90
    assert found.about - room.LARGEST_SIDECAR == made.width * made.height * 6


@pytest.mark.parametrize("output", [Output("tiff"), Output("tiff", long_edge=40)])
def test_a_file_that_is_not_compressed_is_estimated_as_it_comes_out(
    tmp_path, make_original, output
):
    wanted = jobs([make_original(tmp_path / f"{i}.png") for i in range(2)], tmp_path / "o", output)
    (found,) = room.rooms(wanted)
    list(render_all(wanted))
    written = sum(path.stat().st_size for path in (tmp_path / "o").glob("*.tif"))
    assert found.surely <= written <= found.about
    assert found.about < written + 2 * (room.LARGEST_SIDECAR + 4096)


@pytest.mark.parametrize(
    "output",
    [
        *(Output(name) for name in FORMATS),
        Output(space="grey"),
        Output(long_edge=384, quality=80),
    ],
    ids=lambda output: f"{output.format} {output.space} {output.quality}",
)
def test_the_demo_set_comes_near_its_estimate(tmp_path, output):
    wanted = jobs(sorted(DEMO.glob("harbour_0[147].dng")), tmp_path / "o", output)
    (found,) = room.rooms(wanted)
    list(render_all(wanted))
    written = sum(path.stat().st_size for path in (tmp_path / "o").iterdir())
    assert found.surely < written < found.about * room.SPARE


def test_originals_that_are_not_looked_at_are_taken_to_be_like_the_others(tmp_path, monkeypatch):
    read = []
    monkeypatch.setattr(room, "stated_size", lambda path: read.append(path) or (600, 400))
    many = [tmp_path / f"{i}.dng" for i in range(100)]
    (found,) = room.rooms(jobs(many, tmp_path, Output("tiff")))
    assert len(read) <= room.SAMPLE
    assert found.surely == 100 * 600 * 400 * 6


def test_what_is_replaced_is_room(tmp_path, make_original, free):
    free(1000)
    wanted = jobs([make_original(tmp_path / "a.png")], tmp_path / "o", Output("tiff"))
    (before,) = room.rooms(wanted)
    list(render_all(wanted))
    (after,) = room.rooms(wanted)
    assert before.free == 1000
    assert after.free == 1000 + (tmp_path / "o/a.tif").stat().st_size


def test_a_disk_that_is_too_small_is_refused_before_any_work(tmp_path, make_original, free):
    free(200_000)
    for i in range(12):
        make_original(tmp_path / f"in/{i}.png")
    command = ["render", "evenlight", str(tmp_path / "in"), "--out", str(tmp_path / "o")]
    refused = CliRunner().invoke(cli.main, [*command, "--format", "tiff"])
    assert refused.exit_code == 2
    assert refused.stderr.startswith(
        f"Error: {tmp_path / 'o'}: 0.4 MB or more are needed for 12 outputs, about 0.5 MB, and "
        "0.2 MB are free; make room"
    )
    assert not (tmp_path / "o").exists()
    planned = CliRunner().invoke(cli.main, [*command, "--format", "tiff", "--dry-run"])
    assert planned.exit_code == 2 and "0.2 MB are free" in planned.stderr


def test_a_small_run_is_never_refused_but_warned_of(tmp_path, make_original, free):
    free(0)
    wanted = jobs([make_original(tmp_path / f"{i}.png") for i in range(9)], tmp_path, Output())
    (sentence,) = room.check_room(room.rooms(wanted))
    assert "the disk may become full" in sentence
    free(10**9)
    assert room.check_room(room.rooms(wanted)) == []


def test_a_dark_and_soft_picture_is_not_refused_where_it_fits(tmp_path):
    """The least that a set is taken to need is no more than the file of a blurred night."""
    rng = np.random.default_rng(1)
    coarse = Image.fromarray(rng.integers(0, 60, (100, 150, 3), np.uint8))
    night = np.asarray(coarse.resize((600, 400)))
    noisy = np.clip(night + rng.normal(0, 1.5, night.shape), 0, 255).astype(np.uint8)
    Image.fromarray(noisy).save(tmp_path / "night.png")
    wanted = jobs([tmp_path / "night.png"], tmp_path / "o", Output())
    list(render_all(wanted))
    assert room.rooms(wanted)[0].surely < (tmp_path / "o/night.jpg").stat().st_size


def test_a_disk_that_fills_up_midway_ends_the_run_with_one_message(
    tmp_path, make_original, monkeypatch
):
    """The third output and all after it find no room; nothing of them is left."""
    for i in range(8):
        make_original(tmp_path / f"in/{i}.png", seed=i)
    written, flush = [], os.fsync

    def full(descriptor):
        written.append(descriptor)
        if len(written) > 12:  # a picture takes six: two files, two names, in two folders' order
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        flush(descriptor)

    monkeypatch.setattr(atomic.os, "fsync", full)
    command = ["render", "evenlight", str(tmp_path / "in"), "--out", str(tmp_path / "o")]
    result = CliRunner().invoke(cli.main, command)
    monkeypatch.undo()
    assert result.exit_code == 1
    assert result.stderr.count("the disk is full, ") == 1
    made = len(list((tmp_path / "o").glob("*.jpg")))
    assert 1 <= made <= 3
    assert f"{made} of 8 rendered" in result.stderr
    assert "the disk is full; every file there is whole: --keep goes on" in result.stderr
    assert "not begun" in result.stderr
    assert len(list((tmp_path / "o").iterdir())) == 2 * made
    again = CliRunner().invoke(cli.main, [*command, "--keep"])
    assert again.exit_code == 0 and f"{made} kept" in again.stderr


def test_a_full_disk_is_an_error_of_its_own(tmp_path, monkeypatch):
    def full(descriptor):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(atomic.os, "fsync", full)
    with pytest.raises(DiskFull, match="the disk is full, 4 bytes are needed; make room"):
        atomic.write_atomically(tmp_path / "a", b"four")
    assert not list(tmp_path.iterdir())


def test_estimates_rise_with_quality():
    sizes = [room.bytes_about(Output(quality=q), 600, 400)[0] for q in range(1, 101)]
    assert (np.diff(sizes) > 0).all()


def test_what_a_recipe_crops_is_not_counted(tmp_path, make_original):
    look = recipe_from_mapping({"grading": 1, "framing": {"aspect": "1:1"}}, "look")
    original = make_original(tmp_path / "a.png")
    wanted = jobs_in_folder({original: look}, tmp_path / "o", Output("tiff"))
    (found,) = room.rooms(wanted)
    list(render_all(wanted))
    size = (tmp_path / "o" / "a.tif").stat().st_size
    assert 0 <= size - (found.about - room.LARGEST_SIDECAR) < 4096
