"""Outputs made again from their sidecars."""

import re

import pytest

from grading.engine.output import Output
from grading.errors import OutputError, SidecarError
from grading.files import sidecar
from grading.recipe.load import load_recipe
from grading.shoot.batch import render_all
from grading.shoot.jobs import plan_jobs
from grading.shoot.redo import redo

OUTPUTS = [Output(), Output("tiff", "bt2020", 50), Output("jpeg", "display-p3", 48, 80)]


@pytest.fixture(params=OUTPUTS)
def output(tmp_path, make_original, recipe_file, request):
    """A rendered output, whose recipe is gone."""
    original = make_original(tmp_path / "in" / "a.png")
    (job,) = plan_jobs([original], tmp_path / "out", request.param.format)
    (outcome,) = render_all([job], load_recipe(recipe_file), request.param)
    assert outcome.error is None
    recipe_file.unlink()
    return job.output


def test_the_same_bits_come_back(output):
    before = output.read_bytes()
    output.unlink()
    assert redo(sidecar.sidecar_path(output)) == (output, True)
    assert output.read_bytes() == before
    assert redo(sidecar.sidecar_path(output), workers=1) == (output, False)


def test_into_another_folder_with_a_sidecar_of_its_own(output, tmp_path):
    again = tmp_path / "deep" / "again" / output.name
    assert redo(sidecar.sidecar_path(output), again.parent) == (again, True)
    assert again.read_bytes() == output.read_bytes()
    assert sidecar.verify(sidecar.sidecar_path(again)).original.path == "../../in/a.png"


def test_the_output_named_in_place_of_its_sidecar(output):
    with pytest.raises(SidecarError, match=f"not a sidecar; .* {sidecar.sidecar_path(output)}$"):
        redo(output)


def test_an_original_that_was_moved(output, tmp_path):
    archive = (tmp_path / "in").rename(tmp_path / "archive")
    output.unlink()
    with pytest.raises(SidecarError, match=r"there is no .*a\.png; .* state --originals FOLDER"):
        redo(sidecar.sidecar_path(output))
    assert redo(sidecar.sidecar_path(output), originals=archive) == (output, True)


def test_another_file_is_only_replaced_if_told_to(output):
    before = output.read_bytes()
    output.write_bytes(b"edited")
    with pytest.raises(OutputError, match="another file of this name exists"):
        redo(sidecar.sidecar_path(output))
    assert output.read_bytes() == b"edited"
    assert redo(sidecar.sidecar_path(output), overwrite=True) == (output, True)
    assert output.read_bytes() == before


def test_a_result_that_differs_is_told_and_not_written(output):
    place = sidecar.sidecar_path(output)
    place.write_text(place.read_text().replace("stops: 0.3", "stops: 0.4"))
    output.unlink()
    with pytest.raises(SidecarError, match="so nothing was written.*was a number in the sidecar"):
        redo(place)
    assert not output.exists()


def test_a_result_that_differs_names_the_versions_that_changed(output):
    place = sidecar.sidecar_path(output)
    text = place.read_text().replace("stops: 0.3", "stops: 0.4")
    place.write_text(re.sub(r"numpy: \S+", "numpy: 1.0", text))
    with pytest.raises(SidecarError, match=r"it was made with numpy 1\.0 \(here \d+\.\d+"):
        redo(place)


def test_another_original_is_refused(output, tmp_path, make_original):
    make_original(tmp_path / "in" / "a.png", seed=5)
    with pytest.raises(SidecarError, match="not the original that the output was made from"):
        redo(sidecar.sidecar_path(output))


def test_a_number_out_of_range_names_the_sidecar(output):
    place = sidecar.sidecar_path(output)
    place.write_text(place.read_text().replace("stops: 0.3", "stops: 99"))
    with pytest.raises(Exception, match="recipe.resolved: exposure.stops = 99: more than 10"):
        redo(place)


def test_the_original_is_never_replaced(tmp_path, make_original, recipe_file):
    original = make_original(tmp_path / "in" / "a.jpg")
    before = original.read_bytes()
    (job,) = plan_jobs([original], tmp_path / "out", "jpeg")
    list(render_all([job], load_recipe(recipe_file), Output()))
    with pytest.raises(OutputError, match="would replace an original"):
        redo(sidecar.sidecar_path(job.output), original.parent, overwrite=True)
    assert original.read_bytes() == before
    stranger = make_original(tmp_path / "other" / "a.jpg", seed=1)
    with pytest.raises(OutputError, match="it may be an original"):
        redo(sidecar.sidecar_path(job.output), stranger.parent, overwrite=True)
