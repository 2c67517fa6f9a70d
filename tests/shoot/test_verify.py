"""A folder checked against its sidecars."""

import os
from dataclasses import replace
from math import inf
from pathlib import Path

import pytest

from grading.engine.output import Output
from grading.files import sidecar
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.verify import Verified, verify_folder
from planning import planned


@pytest.fixture
def out(tmp_path, make_original, recipe_file):
    originals = [make_original(tmp_path / "in" / f"{i}.png", seed=i) for i in range(3)]
    jobs = planned(dict.fromkeys(originals, load_recipe(recipe_file)), tmp_path / "out")
    assert not any(o.error for o in render_all(jobs))
    return tmp_path / "out"


def troubles(folder, *arguments, **settings):
    return [str(trouble) for trouble in verify_folder(folder, *arguments, **settings).troubles]


def test_all_agree(out):
    assert verify_folder(out) == Verified(3, 0, [])
    assert verify_folder(out, redone=inf) == Verified(3, 0, [])


def test_a_relative_folder_with_its_originals_in_it(out, monkeypatch):
    for path in (out.parent / "in").iterdir():
        path.rename(out / path.name)
    monkeypatch.chdir(out)
    assert verify_folder(Path("."), Path(".")) == Verified(3, 0, [])


def test_a_changed_output_and_a_changed_original_are_both_reported(out):
    (out / "0.jpg").write_bytes((out / "0.jpg").read_bytes()[:-1])
    (out.parent / "in" / "2.png").write_bytes(b"other")
    found = verify_folder(out)
    assert (found.agreeing, found.disagreeing) == (1, 2)
    first, second = map(str, found.troubles)
    assert first.startswith(f"{out}/0.jpg.yaml: {out}/0.jpg is not the file that the sidecar was")
    assert "2.png is not the file that the sidecar was" in second


def test_originals_that_were_moved_are_reported_once(out):
    archive = (out.parent / "in").rename(out.parent / "archive")
    found = verify_folder(out)
    assert (found.agreeing, found.disagreeing) == (0, 3)
    assert [str(each) for each in found.troubles] == [
        f"{out.parent}/in: 3 originals (0.png and others) are no longer here; "
        "state where originals lie now: --originals FOLDER"
    ]
    assert verify_folder(out, archive) == Verified(3, 0, [])
    (archive / "1.png").unlink()
    assert troubles(out, archive) == [
        f"{archive}: the original 1.png is no longer here; "
        "state where originals lie now: --originals FOLDER"
    ]


def test_a_missing_output(out):
    (out / "1.jpg").unlink()
    (found,) = troubles(out)
    assert "1.jpg cannot be read" in found and "make it again by redo" in found


def test_an_output_without_a_sidecar(out):
    (out / "1.jpg.yaml").unlink()
    assert verify_folder(out).disagreeing == 1
    assert troubles(out) == [
        f"{out}/1.jpg: an output without a sidecar; "
        "if it is a picture of yours, move it away; if not, delete it and render again"
    ]


def test_a_damaged_sidecar(out):
    (out / "1.jpg.yaml").write_text("sidecar: [")
    (found,) = troubles(out)
    assert found.startswith(f"{out}/1.jpg.yaml")


def test_another_pictures_sidecar_copied_over(out):
    (out / "1.jpg.yaml").write_bytes((out / "0.jpg.yaml").read_bytes())
    (found,) = troubles(out)
    assert found.startswith(f"{out}/1.jpg.yaml: this is the sidecar of 0.jpg")


@pytest.mark.parametrize(
    ("values", "problem"),
    [
        ({"size": 7}, "is not the file"),
        ({"width": 7}, "output.width is not that of the file"),
        ({"height": 7}, "output.height is not that of the file"),
        ({"format": "tiff"}, "output.format is not that of the file"),
        ({"space": "bt2020"}, "output.space is not that of the file"),
        ({"format": "png"}, "output.format is not that of the file"),
        ({"space": "grey"}, "output.space is not that of the file"),
        ({"box": [90]}, "1.jpg.yaml: box = [90]; allowed: width and height in pixels"),
        ({"box": "wide"}, "the value 'wide'; allowed: a list or null"),
        ({"short_edge": 40, "box": [90, 90]}, "are stated together"),
        ({"format": "jxl", "space": "oprgb"}, "jxl has no way to state the space oprgb"),
        ({"space": "none"}, "1.jpg.yaml: space = 'none'; allowed: srgb, display-p3, bt2020"),
    ],
)
def test_a_forged_description_of_the_output(out, forge, values, problem):
    forge(out / "1.jpg.yaml", "output", **values)
    (found,) = troubles(out)
    assert problem in found


def test_a_forged_recipe_is_found_by_rendering(out, forge):
    place = out / "1.jpg.yaml"
    resolved = sidecar.read_sidecar(place).recipe.resolved
    forge(place, "recipe", resolved=resolved | {"exposure": {"stops": 0.4}})
    assert troubles(out) == [] == troubles(out, redone=2)  # the first and the last
    (found,) = troubles(out, redone=inf)
    assert found.startswith(f"{place}: 1.jpg comes out with SHA-256")
    forge(place, "recipe", resolved=resolved | {"exposure": {"stops": 99}})
    (found,) = troubles(out)
    assert "exposure.stops = 99: more than 10" in found


def test_a_forged_fact_of_capture(out, tmp_path):
    folder = tmp_path / "demo"
    demo = Path(__file__).parents[2] / "demo_images" / "harbour_01.dng"
    (job,) = planned({demo: load_recipe("evenlight")}, folder, Output(long_edge=64))
    list(render_all([job]))
    assert troubles(folder) == []
    place = folder / "harbour_01.jpg.yaml"
    record = sidecar.read_sidecar(place)
    assert record.capture["iso"] != 123
    forged = replace(record, capture=record.capture | {"iso": 123.0})
    place.write_bytes(sidecar.as_bytes(forged))
    (found,) = troubles(folder)
    assert found.startswith(f"{place}: capture.iso is not that of the file")


@pytest.mark.skipif(os.name == "nt", reason="special files of POSIX")
def test_nothing_is_waited_for(out, forge):
    (out / "0.jpg").unlink()
    (out / "0.jpg").symlink_to("/dev/zero")
    (out / "1.jpg.yaml").unlink()
    os.mkfifo(out / "1.jpg.yaml")
    (out.parent / "in" / "2.png").unlink()
    os.mkfifo(out.parent / "in" / "2.png")
    forge(out / "2.jpg.yaml", "original", path="../in/2.png")
    found = troubles(out)
    assert len(found) == 3 and all("not a regular file" in trouble for trouble in found)


def test_an_original_beside_its_output_needs_no_sidecar(tmp_path, make_original, recipe_file):
    original = make_original(tmp_path / "a.jpg")
    (job,) = planned({original: load_recipe(recipe_file)}, tmp_path, Output("tiff"))
    assert not any(o.error for o in render_all([job]))
    assert verify_folder(tmp_path) == Verified(1, 0, [])


def test_a_path_too_long_for_any_disk_is_that_of_a_missing_original(out, forge):
    forge(out / "1.jpg.yaml", "original", path="../in/" + "x" * 5000)
    found = verify_folder(out)
    assert (found.agreeing, found.disagreeing) == (2, 1)
    assert "the original 1.png is no longer here" in str(found.troubles[0])
