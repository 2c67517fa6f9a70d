"""A folder checked against its sidecars."""

import pytest

from grading.engine.output import Output
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.jobs import plan_jobs
from grading.shoot.verify import verify_folder


@pytest.fixture
def out(tmp_path, make_original, recipe_file):
    originals = [make_original(tmp_path / "in" / f"{i}.png", seed=i) for i in range(3)]
    jobs = plan_jobs(originals, tmp_path / "out", "jpeg")
    assert not any(o.error for o in render_all(jobs, load_recipe(recipe_file), Output()))
    return tmp_path / "out"


def troubles(folder):
    return [str(trouble) for trouble in verify_folder(folder)[1]]


def test_all_agree(out):
    assert verify_folder(out) == (3, [])


def test_a_changed_output_and_a_changed_original_are_both_told(out):
    (out / "0.jpg").write_bytes((out / "0.jpg").read_bytes()[:-1])
    (out.parent / "in" / "2.png").write_bytes(b"other")
    found = troubles(out)
    assert verify_folder(out)[0] == 1
    assert len(found) == 2
    assert found[0].startswith(f"{out}/0.jpg.yaml: {out}/0.jpg has SHA-256")
    assert "2.png has SHA-256" in found[1]


def test_originals_that_were_moved(out):
    archive = (out.parent / "in").rename(out.parent / "archive")
    assert verify_folder(out)[0] == 0
    assert all("state --originals FOLDER" in trouble for trouble in troubles(out))
    assert verify_folder(out, archive) == (3, [])


def test_a_missing_output(out):
    (out / "1.jpg").unlink()
    (found,) = troubles(out)
    assert "1.jpg cannot be read" in found


def test_an_output_without_a_sidecar(out):
    (out / "1.jpg.yaml").unlink()
    assert troubles(out) == [
        f"{out}/1.jpg: an output without a sidecar; render it again, or take it out of this folder"
    ]


def test_a_damaged_sidecar(out):
    (out / "1.jpg.yaml").write_text("sidecar: [")
    (found,) = troubles(out)
    assert found.startswith(f"{out}/1.jpg.yaml")


def test_an_original_beside_its_output_needs_no_sidecar(tmp_path, make_original, recipe_file):
    original = make_original(tmp_path / "a.jpg")
    (job,) = plan_jobs([original], tmp_path, "tiff")
    assert not any(o.error for o in render_all([job], load_recipe(recipe_file), Output("tiff")))
    assert verify_folder(tmp_path) == (1, [])
