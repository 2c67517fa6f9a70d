"""A new file format is its record: whoever asks the registry can write, check and redo it."""

import io

from PIL import Image

from grading.engine.output import Output
from grading.files.formats.record import Format
from grading.files.formats.registry import FORMATS
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.verify import Verified, verify_folder
from planning import planned


def encode(codes, icc, exif, quality, srgb, workers):
    file = io.BytesIO()
    Image.fromarray(codes).save(file, "PNG", icc_profile=icc)
    return file.getvalue()


def test_a_format_that_only_has_a_record(tmp_path, make_original, recipe_file, monkeypatch):
    record = Format("lossless", ".png", 8, encode, False, "PNG")
    monkeypatch.setitem(FORMATS, record.name, record)
    recipes = {make_original(tmp_path / "in" / "a.png"): load_recipe(recipe_file)}
    jobs = planned(recipes, tmp_path / "out", Output(record.name))
    assert not any(o.error for o in render_all(jobs))
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["a.png", "a.png.yaml"]
    assert "quality: null" in (tmp_path / "out" / "a.png.yaml").read_text()
    assert verify_folder(tmp_path / "out", redone=1) == Verified(1, 0, [])
