"""Outputs made again from their sidecars."""

from dataclasses import replace

import pytest

from grading.engine.output import Output
from grading.errors import OutputError, RecipeError, SidecarError
from grading.files import sidecar
from grading.recipe.load import load_recipe, recipe_from_mapping
from grading.shoot.batch import render_all
from grading.shoot.earlier import earlier_output
from grading.shoot.redo import redo
from planning import planned

OUTPUTS = [
    Output(), Output("tiff", "bt2020", 50), Output("jpeg", "display-p3", 48, 80),
    Output("png16", "oprgb", box=(40, 40)), Output("avif", "grey", short_edge=30), Output("jxl"),
]  # fmt: skip


@pytest.fixture(params=OUTPUTS)
def output(tmp_path, make_original, recipe_file, request):
    """A rendered output, whose recipe is gone."""
    original = make_original(tmp_path / "in" / "a.png")
    recipes = {original: load_recipe(recipe_file)}
    (job,) = planned(recipes, tmp_path / "out", request.param)
    (outcome,) = render_all([job])
    assert outcome.error is None
    recipe_file.unlink()
    return job.targets[0].path


def test_the_same_bits_come_back(output):
    before = output.read_bytes()
    output.unlink()
    assert redo(sidecar.sidecar_path(output)) == (output, True)
    assert output.read_bytes() == before
    assert redo(sidecar.sidecar_path(output), workers=1) == (output, False)


def test_a_framed_output_comes_back_with_its_frame_alone(tmp_path, make_original):
    original = make_original(tmp_path / "in" / "a.png")
    framing = {"level": [[0.1, 0.5], [0.9, 0.55]], "aspect": "5:4", "centre": [0.3, 0.5]}
    look = recipe_from_mapping({"grading": 1, "framing": framing}, "look")
    (job,) = planned({original: look}, tmp_path / "out", Output("tiff", long_edge=50))
    (outcome,) = render_all([job])
    assert outcome.error is None
    path = job.targets[0].path
    before, record = path.read_bytes(), earlier_output(path).record
    assert set(record.recipe.resolved["framing"]) == {"straighten", "crop"}
    assert record.output.width / record.output.height == pytest.approx(5 / 4, abs=0.03)
    path.unlink()
    assert redo(sidecar.sidecar_path(path)) == (path, True)
    assert path.read_bytes() == before


def test_into_another_folder_with_a_sidecar_of_its_own(output, tmp_path):
    again = tmp_path / "deep" / "again" / output.name
    assert redo(sidecar.sidecar_path(output), again.parent) == (again, True)
    assert again.read_bytes() == output.read_bytes()
    assert earlier_output(again).record.original.path == "../../in/a.png"


def test_the_output_named_in_place_of_its_sidecar(output):
    with pytest.raises(SidecarError, match=f"not a sidecar; .* {sidecar.sidecar_path(output)}$"):
        redo(output)


def test_an_original_that_was_moved(output, tmp_path):
    archive = (tmp_path / "in").rename(tmp_path / "archive")
    output.unlink()
    with pytest.raises(SidecarError, match=r"a\.png cannot be read .* state --originals FOLDER"):
        redo(sidecar.sidecar_path(output))
    assert redo(sidecar.sidecar_path(output), originals=archive) == (output, True)


def test_a_picture_that_was_changed_since_is_never_replaced(output):
    output.write_bytes(b"retouched")
    for overwrite in (False, True):
        with pytest.raises(OutputError, match="changed since, so it is yours"):
            redo(sidecar.sidecar_path(output), overwrite=overwrite)
    assert output.read_bytes() == b"retouched"


def test_another_earlier_output_is_only_replaced_if_told_to(output, tmp_path, earlier):
    folder = tmp_path / "again"
    earlier(folder / output.name)
    with pytest.raises(OutputError, match="the output exists already; state --overwrite"):
        redo(sidecar.sidecar_path(output), folder)
    assert redo(sidecar.sidecar_path(output), folder, overwrite=True) == (
        folder / output.name,
        True,
    )
    assert earlier_output(folder / output.name).whole


def _resolved(place, forge, stops):
    resolved = sidecar.read_sidecar(place).recipe.resolved
    forge(place, "recipe", resolved=resolved | {"exposure": {"stops": stops}})


def test_a_result_that_differs_is_reported_and_not_written(output, forge):
    place = sidecar.sidecar_path(output)
    _resolved(place, forge, 0.4)
    output.unlink()
    with pytest.raises(SidecarError, match="so nothing was written.*was a number in the sidecar"):
        redo(place)
    assert not output.exists()


def test_a_result_that_differs_names_the_versions_that_changed(output, forge):
    place = sidecar.sidecar_path(output)
    _resolved(place, forge, 0.4)
    libraries = sidecar.read_sidecar(place).engine.libraries | {"numpy": "1.0"}
    forge(place, "engine", libraries=libraries)
    with pytest.raises(SidecarError, match=r"it was made with numpy 1\.0 \(here \d+\.\d+"):
        redo(place)


def test_a_sidecar_that_was_changed_is_refused(output):
    place = sidecar.sidecar_path(output)
    place.write_text(place.read_text().replace("stops: 0.3", "stops: 0.4"))
    with pytest.raises(SidecarError, match="a value in it was changed after it was written"):
        redo(place)


@pytest.mark.parametrize(
    ("part", "values", "name"),
    [
        ("output", {"width": 7}, "output.width"),
        ("output", {"size": 7}, "output.size"),
        ("original", {"name": "b.png"}, "original.name"),
        ("recipe", {"name": "Other"}, "recipe.name"),
        (None, {"capture": {"iso": 400}}, "capture.iso"),
        (None, {"measured": {"decoder": "PNG, 16 bit"}}, "measured.clipping.outside"),
    ],
)
def test_values_that_make_no_pixel_are_compared_too(output, forge, part, values, name):
    """Forged with a digest that fits."""
    place = sidecar.sidecar_path(output)
    if part:
        forge(place, part, **values)
    else:
        record = replace(sidecar.read_sidecar(place), **values)
        place.write_bytes(sidecar.as_bytes(record))
    with pytest.raises(SidecarError, match=rf"other values do not: .*{name}"):
        redo(place)


def test_a_strangers_name_leads_nowhere(output, tmp_path, forge):
    place = sidecar.sidecar_path(output)
    forge(place, "output", name=f"../../escaped{output.suffix}")
    before = sorted(tmp_path.rglob("*"))
    with pytest.raises(SidecarError, match="output.name .* the plain name of a file"):
        redo(place, tmp_path / "again", overwrite=True)
    assert sorted(tmp_path.rglob("*")) == before


def test_another_original_is_refused(output, tmp_path, make_original):
    make_original(tmp_path / "in" / "a.png", seed=5)
    with pytest.raises(SidecarError, match="not the file that the sidecar was written for"):
        redo(sidecar.sidecar_path(output))


def test_a_number_out_of_range_names_the_sidecar(output, forge):
    place = sidecar.sidecar_path(output)
    _resolved(place, forge, 99)
    with pytest.raises(RecipeError, match="recipe.resolved: exposure.stops = 99: more than 10"):
        redo(place)


def test_the_original_is_never_replaced(tmp_path, make_original, recipe_file):
    original = make_original(tmp_path / "in" / "a.jpg")
    before = original.read_bytes()
    (job,) = planned({original: load_recipe(recipe_file)}, tmp_path / "out")
    list(render_all([job]))
    with pytest.raises(OutputError, match="would replace an original"):
        redo(sidecar.sidecar_path(job.targets[0].path), original.parent, overwrite=True)
    assert original.read_bytes() == before
    stranger = make_original(tmp_path / "other" / "a.jpg", seed=1)
    with pytest.raises(OutputError, match="it may be an original"):
        redo(sidecar.sidecar_path(job.targets[0].path), stranger.parent, overwrite=True)


def test_the_record_of_a_picture_that_was_moved_away_is_not_lost(output, tmp_path, earlier):
    """A sidecar alone, of another picture of this name."""
    folder = tmp_path / "again"
    record = earlier(folder / output.name)
    (folder / output.name).unlink()
    with pytest.raises(OutputError, match="the output exists already; state --overwrite"):
        redo(sidecar.sidecar_path(output), folder)
    assert sidecar.read_sidecar(sidecar.sidecar_path(folder / output.name)) == record
    assert redo(sidecar.sidecar_path(output), folder, overwrite=True)[1]
