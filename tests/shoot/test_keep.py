"""What an earlier run left is kept only where this run would make the same."""

from dataclasses import replace

import pytest

from grading.engine.output import Output
from grading.files.metadata.label import Label
from grading.files.sidecar import as_bytes, engine_facts, read_sidecar, sidecar_path
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.keep import what_differs as differs_from_record
from grading.shoot.noise import NoiseOfRun
from planning import planned

OUTPUT = Output(long_edge=48)


def what_differs(job, recipe, output):
    (target,) = job.targets
    target = replace(target, output=output)
    job = replace(job, recipe=recipe, targets=(target,))
    record = read_sidecar(sidecar_path(target.path))
    return differs_from_record(job, target, record, NoiseOfRun([job.original]))


@pytest.fixture
def job(tmp_path, make_original, recipe_file):
    original = make_original(tmp_path / "in" / "a.png")
    (job,) = planned({original: load_recipe(recipe_file)}, tmp_path / "out", OUTPUT)
    (outcome,) = render_all([job])
    assert outcome.error is None
    return job


def test_the_same_is_kept(job, recipe_file):
    assert what_differs(job, load_recipe(recipe_file), OUTPUT) is None


@pytest.mark.parametrize(
    "change",
    [
        {"space": "bt2020"}, {"long_edge": 49}, {"long_edge": None}, {"quality": 91},
        {"long_edge": None, "short_edge": 48}, {"long_edge": None, "box": (48, 48)},
        {"format": "png"}, {"sharpen": 0.0},
    ],
)  # fmt: skip
def test_other_settings(job, recipe_file, change):
    output = replace(OUTPUT, **change)
    assert what_differs(job, load_recipe(recipe_file), output).startswith("made in another")


@pytest.mark.parametrize("keys", [{"caption": "Fog"}, {"dpi": 300}, {"place": "keep"}])
def test_another_label(job, keys):
    (target,) = job.targets
    record = read_sidecar(sidecar_path(target.path))
    changed = replace(target, label=Label(**keys))
    found = differs_from_record(job, changed, record, NoiseOfRun([job.original]))
    assert found == "made with another caption, mark, density, place or credits"


def test_quality_is_nothing_to_a_tiff(job, recipe_file):
    recipe = load_recipe(recipe_file)
    (job,) = planned({job.original: recipe}, job.targets[0].path.parent, Output("tiff"))
    list(render_all([job]))
    assert what_differs(job, recipe, Output("tiff", quality=80)) is None


def test_another_recipe(job, recipe_file):
    recipe_file.write_text(recipe_file.read_text().replace("stops: 0.3", "stops: 0.4"))
    assert "another recipe" in what_differs(job, load_recipe(recipe_file), OUTPUT)


def test_what_makes_no_pixel_is_no_difference(job, recipe_file):
    """Other words, layout and order of keys, and a library that only reads text."""
    text = recipe_file.read_text().replace("title: Look", "# by the sea\ntitle: Other")
    lines = text.splitlines()
    recipe_file.write_text("\n".join([lines[0], *reversed(lines[1:])]) + "\n")
    assert what_differs(job, load_recipe(recipe_file), OUTPUT) is None
    assert not {"pyyaml", "pydantic"} & engine_facts().libraries.keys()


def test_another_original(job, recipe_file, make_original):
    make_original(job.original, seed=1)
    assert "another original" in what_differs(job, load_recipe(recipe_file), OUTPUT)


def test_an_original_that_was_moved(job, recipe_file, tmp_path):
    """Kept, its sidecar would point to where nothing lies."""
    moved = replace(job, original=job.original.rename(tmp_path / job.original.name))
    assert "another place" in what_differs(moved, load_recipe(recipe_file), OUTPUT)


def test_other_versions(job, recipe_file):
    place = sidecar_path(job.targets[0].path)
    record = read_sidecar(place)
    engine = replace(record.engine, libraries=record.engine.libraries | {"numpy": "1.0"})
    place.write_bytes(as_bytes(replace(record, engine=engine)))
    assert "other versions" in what_differs(job, load_recipe(recipe_file), OUTPUT)
