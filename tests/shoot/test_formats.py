"""A new file format is its record: whoever asks the registry can write, check and redo it."""

import io

from PIL import Image

from grading.colour.profiles import space_of_profile
from grading.engine.output import Output
from grading.files.formats import registry
from grading.files.formats.record import Format, Header
from grading.recipe.load import load_recipe
from grading.shoot import verify
from grading.shoot.batch import render_all
from grading.shoot.verify import Verified, verify_folder
from planning import planned


def encode(codes, attached, quality, workers):
    file = io.BytesIO()
    Image.fromarray(codes).save(file, "WEBP", lossless=True, icc_profile=attached.icc)
    return file.getvalue()


def read_header(file):
    with Image.open(file, formats=["WEBP"]) as picture:
        return Header(*picture.size, 8, space_of_profile(picture.info["icc_profile"]))


def test_a_format_that_only_has_a_record(tmp_path, make_original, recipe_file, monkeypatch):
    record = Format("lossless", ".webp", 8, encode, False, read_header)
    monkeypatch.setitem(registry.FORMATS, record.name, record)
    monkeypatch.setattr(verify, "SUFFIXES", (*registry.SUFFIXES, record.suffix))
    recipes = {make_original(tmp_path / "in" / "a.png"): load_recipe(recipe_file)}
    jobs = planned(recipes, tmp_path / "out", Output(record.name))
    assert not any(o.error for o in render_all(jobs))
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["a.webp", "a.webp.yaml"]
    assert "quality: null" in (tmp_path / "out" / "a.webp.yaml").read_text()
    assert verify_folder(tmp_path / "out", redone=1) == Verified(1, 0, [])
