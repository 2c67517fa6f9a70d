"""Lens: where its numbers come from, what of them is used, and what is said of them."""

import numpy as np
import pytest

from frames_in_memory import facts, frame, recipe, two_matrix_camera
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.resolve import resolve, warnings
from grading.errors import GradingError, OriginalError
from grading.frame import Capture, Frame
from grading.lens import database
from grading.lens.database import Known
from grading.lens.optics import MAP_SIDE, Falloff, Optics, Warp
from grading.recipe.load import recipe_from_mapping
from grading.stages.lens import Lens, distortion

EXAMPLE = {
    "numbers": {
        "vignetting": {"fall": [-0.3, 0.05]},
        "red": {"radial": [1.02]},
        "blue": {"radial": [0.985, 0, 0.003]},
    }
}

BARREL = Warp((0.5, 0.5), 0.6, (1.0, 0.0, -0.04))
DARK = Falloff((0.5, 0.5), 0.6, fall=(-0.4,))
STATED = Optics(BARREL, Warp((0.5, 0.5), 0.6, (1.001,)), None, DARK)
UNKNOWN = Capture()


def shot(optics=None, capture=UNKNOWN, raw=True, camera=None):
    """A frame that a file of some kind gave, with what it states."""
    original = frame(np.full((3, 40, 60), 0.2, np.float32), camera)
    about = type(original.facts)(
        **vars(original.facts)
        | {"optics": optics, "capture": capture, "brightest": 0.9 if raw else None}
    )
    return Frame(about, original.pixels)


@pytest.fixture
def shelf(monkeypatch):
    """A database in which there is one lens."""

    def known_lens(capture, width, height, name=None):
        return Known("Invented 20 mm", STATED) if "20" in (name or capture.lens or "") else None

    monkeypatch.setattr("grading.stages.lens.known_lens", known_lens)


def resolved(original, **keys):
    return resolve(recipe(lens=keys), original).parts["lens"]


def test_what_a_file_states_is_carried_out_where_nothing_else_is_said():
    lens = resolved(shot(STATED, Capture(lens="Invented 20 mm")))
    assert lens.numbers.source == "stated in the file" and lens.numbers.lens == "Invented 20 mm"
    assert lens.numbers.distortion.radial == [1.0, 0.0, -0.04]
    assert lens.numbers.vignetting.fall == [-0.4] and lens.numbers.blue is None


def test_a_file_that_states_nothing_is_left_alone():
    assert resolved(shot()) == Lens()
    assert "lens" not in resolve(recipe(), shot()).as_mapping()


def test_nothing_means_nothing():
    assert resolved(shot(STATED), **{"from": "nothing"}).numbers is None


@pytest.mark.parametrize(
    ("source", "optics", "lens", "expected"),
    [
        ("database", STATED, "20", "lensfun database"),
        ("either", STATED, "20", "stated in the file"),
        ("either", None, "20", "lensfun database"),
        ("either", None, "35", None),
        ("database", None, "35", None),
    ],
)
def test_sources_come_in_their_order(shelf, source, optics, lens, expected):
    found = resolved(shot(optics, Capture(lens=lens)), **{"from": source})
    assert (found.numbers and found.numbers.source) == expected
    assert found.from_ == ("file" if expected else "nothing")


def test_a_picture_that_a_camera_made_is_looked_up_by_name_alone(shelf):
    rendered = shot(None, Capture(lens="20"), raw=False)
    assert resolved(rendered, **{"from": "database"}).numbers is None
    assert resolved(rendered, name="20").numbers.lens == "Invented 20 mm"


def test_numbers_once_resolved_ask_nobody_again(shelf, monkeypatch):
    original = shot(None, Capture(lens="20"), camera=two_matrix_camera())
    once = resolve(recipe(lens={"from": "database", "vignetting": 0.5}), original)
    monkeypatch.setattr("grading.stages.lens.known_lens", None)
    again = resolve(recipe_from_mapping(once.as_mapping(), "again"), original)
    assert again.parts["lens"] == once.parts["lens"]
    np.testing.assert_array_equal(render(original, again).array, render(original, once).array)


def test_a_lens_that_is_not_known_is_said(shelf):
    capture = Capture(make="Invented", model="One", lens="Odd 35 mm", focal_length=35.0)
    asked = recipe(lens={"from": "either"})
    (sentence,) = warnings(asked, shot(None, capture))
    assert sentence.startswith("the database knows no Odd 35 mm on Invented One;")
    assert warnings(asked, shot(STATED, capture)) == ()
    assert warnings(recipe(), shot(None, capture)) == ()
    (sentence,) = warnings(recipe(lens={"name": "Odd"}), shot(None, Capture(), raw=False))
    assert "no Odd, whose focal length the file does not state, on an unknown camera" in sentence


def test_a_database_that_is_not_installed_is_an_error(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "lensfunpy", None)
    for cached in (database._lensfunpy, database._database, database.known_lens):
        cached.cache_clear()
    with pytest.raises(GradingError, match=r"not installed; pip install 'grading\[lens\]'"):
        resolved(shot(None, Capture(model="One", lens="20")), **{"from": "database"})


@pytest.mark.parametrize(
    "numbers",
    [
        {"distortion": {"radial": [1, 0, -0.6]}},
        {"red": {"radial": [2.5]}},
        {"vignetting": {"fall": [-0.99]}},
        {"vignetting": {"gain": [-0.9]}},
    ],
)
def test_numbers_of_no_lens_are_refused(numbers):
    with pytest.raises(OriginalError, match="more than a lens does to this frame"):
        resolved(shot(), numbers=numbers)


def test_a_share_of_a_distortion_goes_so_much_of_the_way():
    lens = Lens.model_validate({"numbers": {"distortion": {"radial": [1, 0, -0.04]}}})
    about = facts(60, 40)
    whole = np.subtract(distortion(lens, about).to_frame(50.0, 30.0, 60, 40), (50, 30))
    half = lens.model_copy(update={"distortion": 0.5})
    moved = np.subtract(distortion(half, about).to_frame(50.0, 30.0, 60, 40), (50, 30))
    np.testing.assert_allclose(moved, whole / 2, atol=1e-12)
    assert distortion(lens.model_copy(update={"distortion": 0.0}), about) is None


def test_maps_of_gains_are_those_of_the_file():
    gains = np.full((3, MAP_SIDE, MAP_SIDE), 2, np.float32)
    original = shot(Optics(gains=gains))
    assert resolved(original).numbers.gains
    plain = render(original, recipe(lens={"from": "nothing"}, exposure={"stops": 1.0})).array
    np.testing.assert_array_equal(render(original, recipe()).array, plain)


def waves(x, y):
    return 0.2 + 0.08 * np.sin(x / 4 + np.sin(y / 30)) + 0.06 * np.cos(y / 5)


@pytest.mark.parametrize("tangential", [(0.0, 0.0), (0.004, -0.003)])
def test_what_a_lens_bent_is_straight_in_the_picture(tangential):
    """Within a tenth of a pixel in every part, beside a frame of a lens that bends nothing."""
    width, height = 360, 240
    warp = Warp((0.48, 0.53), 0.6, (1.0, 0.0, 0.06, -0.01), tangential)
    y, x = np.mgrid[0:height, 0:width] + 0.5
    bent, straight = waves(*warp.from_frame(x, y, width, height)), waves(x, y)
    keys = {"centre": [0.48, 0.53], "unit": 0.6, "radial": list(warp.radial),
            "tangential": list(tangential)}  # fmt: skip
    original = frame(np.broadcast_to(bent, (3, height, width)))
    look = resolve(recipe(lens={"numbers": {"distortion": keys}}), original)
    output = Output(format="tiff")
    got = render(original, look, output).array[..., 1].astype(float)
    wanted = frame(np.broadcast_to(straight, (3, height, width)))
    framed = recipe(framing=look.as_mapping()["framing"])
    wanted = render(wanted, framed, output).array[..., 1].astype(float)
    assert got.shape == wanted.shape and got.shape[0] < height
    slopes = np.stack(np.gradient(wanted), -1)
    for part in (np.s_[5:70, 5:90], np.s_[-70:-5, 5:90], np.s_[-70:-5, -90:-5], np.s_[90:150, 90:]):
        moved = np.linalg.lstsq(
            slopes[part].reshape(-1, 2), (wanted - got)[part].ravel(), rcond=None
        )[0]
        assert np.abs(moved).max() < 0.1


def test_framing_keeps_clear_of_the_corners_that_a_distortion_empties():
    original = shot(Optics(Warp((0.5, 0.5), 0.6, (1.0, 0.0, 0.1))))
    once = resolve(recipe(), original)
    assert once.parts["framing"].crop.left > 0
    again = resolve(recipe_from_mapping(once.as_mapping(), "again"), original)
    assert again.parts["framing"] == once.parts["framing"]
    assert render(original, recipe(lens={"distortion": 0.0})).array.shape == (40, 60, 3)
