"""A nearly black raw under every verb that opens originals."""

import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

import dng
from files.charts import MATRIX_D65, patches
from grading import cli
from grading.errors import OriginalError
from grading.files.sidecar import read_sidecar
from grading.pages.follow.run import following

REFUSED = (
    "in/dark.dng: nearly black: its brightest pixel is 0.0045 of the white level; "
    "allowed: 0.01 or more; "
)
ACCEPTED = "nearly black, and accepted: its brightest pixel is 0.0045 of the white level"


@pytest.fixture
def run(tmp_path, monkeypatch):
    """Runs a verb in a folder with a recipe and a raw whose brightest light is 0.0045 of white."""
    monkeypatch.chdir(tmp_path)
    Path("look.yaml").write_text("grading: 1\nexposure: {stops: 1}\n")
    Path("other.yaml").write_text("grading: 1\nexposure: {stops: 2}\n")
    Path("in").mkdir()
    light = patches() / patches().max() * 0.0045
    dng.write_dng(
        "in/dark.dng", np.round(500 + 60000 * dng.mosaic_of(light)).astype(np.uint16),
        white=60500, black=(500,) * 4, color_matrix1=MATRIX_D65, illuminant1="D65",
        as_shot_neutral=(0.5, 1, 0.625),
    )  # fmt: skip
    return lambda *arguments: CliRunner().invoke(cli.main, list(map(str, arguments)))


VERBS = {
    "render": ("render", "look.yaml", "in", "--out", "out"),
    "diff": ("diff", "look.yaml", "other.yaml", "in", "--out", "pages"),
    "sheet": ("sheet", "in", "--look", "look.yaml", "--out", "sheet.html"),
}


@pytest.mark.parametrize("verb", VERBS)
def test_it_is_refused_with_its_likely_cause_and_a_remedy(run, verb):
    refused = run(*VERBS[verb])
    assert refused.exit_code == (2 if verb == "diff" else 1)
    assert REFUSED in refused.stderr
    for words in ("lens cap", "hardly exposed", "compression", "convert", "--accept-dark"):
        assert words in refused.stderr
    assert not Path("out/dark.jpg").exists() and not Path("pages/dark.html").exists()


@pytest.mark.parametrize("verb", VERBS)
def test_it_is_taken_once_a_person_says_so(run, verb):
    taken = run(*VERBS[verb], "--accept-dark")
    assert taken.exit_code == (1 if verb == "diff" else 0), taken.stderr
    assert "refused" not in taken.stderr and REFUSED not in taken.stderr


def test_render_tells_and_the_sidecar_states_that_it_was_accepted(run):
    assert f"in/dark.dng: note: {ACCEPTED}\n" in run(*VERBS["render"], "--accept-dark").stderr
    stated = read_sidecar("out/dark.jpg.yaml").measured["accepted_dark"]
    assert stated == {"brightest": pytest.approx(0.0045, rel=1e-3)}


def test_redo_and_verify_need_not_be_told_again(run):
    run(*VERBS["render"], "--accept-dark")
    Path("out/dark.jpg").unlink()
    redone = run("redo", "out/dark.jpg.yaml")
    assert redone.stdout == "out/dark.jpg: same bits, written\n", redone.stderr
    assert run("verify", "out", "--redo", "all").exit_code == 0
    assert run(*VERBS["render"], "--keep").exit_code == 0


@pytest.mark.parametrize("accepted", [False, True])
def test_follow_shows_it_only_if_told(run, accepted):
    with following("look.yaml", [Path("in/dark.dng")], accept_dark=accepted) as server:
        if accepted:
            assert server.session.rendering(0, 1).picture.array.any()
        else:
            with pytest.raises(OriginalError, match=re.escape(REFUSED)):
                server.session.rendering(0, 1)


def test_every_verb_that_opens_originals_has_the_option():
    opening = {
        name
        for name, verb in cli.main.commands.items()
        if any(each.name == "originals" and each.param_type_name == "argument"
               for each in verb.params)
    }  # fmt: skip
    told = {
        name
        for name, verb in cli.main.commands.items()
        if any(each.name == "accept_dark" for each in verb.params)
    }
    assert opening == {"diff", "follow", "inspect", "render", "sheet", "spots"}
    assert told == opening | {"choose"}
