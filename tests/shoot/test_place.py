"""The place of capture stays behind unless it is asked for, in the output and in its sidecar."""

import io

import exifread
import numpy as np
import pytest

from grading.colour.profiles import icc_profile
from grading.engine.output import Output
from grading.files.formats.jpeg import encode_jpeg
from grading.files.metadata import tifftags
from grading.files.metadata.label import Label
from grading.files.metadata.tifftags import Tag
from grading.files.sidecar import as_bytes, read_sidecar
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.jobs import jobs_in_folder
from grading.shoot.verify import Verified, verify_folder

NORTH, EAST = Tag(tifftags.ASCII, "N"), Tag(tifftags.ASCII, "E")
GPS = {
    1: NORTH, 2: Tag(tifftags.RATIONAL, ((52, 1), (30, 1), (0, 1))),
    3: EAST, 4: Tag(tifftags.RATIONAL, ((4, 1), (15, 1), (0, 1))),
}  # fmt: skip


@pytest.fixture
def delivered(tmp_path, recipe_file):
    """Renders an original that knows its place, and returns folder and sidecar."""

    def make(label):
        codes = np.random.default_rng(0).integers(30, 200, (32, 48, 3), np.uint8)
        original = tmp_path / "in" / "a.jpg"
        original.parent.mkdir()
        facts = {33434: Tag(tifftags.RATIONAL, ((1, 60),))}
        original.write_bytes(encode_jpeg(codes, icc_profile("srgb"), ({}, facts, GPS), 95))
        recipes = {original: load_recipe(recipe_file)}
        (outcome,) = render_all(jobs_in_folder(recipes, tmp_path / "out", Output(), label))
        assert outcome.error is None
        return tmp_path / "out", read_sidecar(tmp_path / "out" / "a.jpg.yaml")

    return make


def places(folder):
    tags = exifread.process_file(io.BytesIO((folder / "a.jpg").read_bytes()))
    return [name for name in tags if name.startswith("GPS")]


def test_it_stays_behind(delivered):
    folder, record = delivered(Label())
    assert places(folder) == []
    assert record.capture == {"shutter": 1 / 60} and record.label == {}
    assert verify_folder(folder, redone=1) == Verified(1, 0, [])


def test_it_is_kept_where_it_is_asked_for(delivered):
    folder, record = delivered(Label(place="keep"))
    assert "GPS GPSLatitude" in places(folder) and "GPS GPSLongitude" in places(folder)
    assert record.capture == {"shutter": 1 / 60, "latitude": 52.5, "longitude": 4.25}
    assert record.label == {"place": "keep"}
    assert verify_folder(folder, redone=1) == Verified(1, 0, [])
    record.capture["latitude"] = 52.4
    (folder / "a.jpg.yaml").write_bytes(as_bytes(record))
    (found,) = verify_folder(folder).troubles
    assert "capture.latitude is not that of the file" in str(found)
