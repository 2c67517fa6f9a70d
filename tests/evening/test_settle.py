"""From frame and look to one recipe: which layer wins, and where each value is from."""

import pytest

from grading.colour.camera import xy_to_neutral
from grading.colour.white import kelvin_duv_to_xy
from grading.engine.resolve import resolve
from grading.errors import RecipeError
from grading.evening.level.corrections import Levelled
from grading.evening.settle import settle, settle_all
from grading.files.originals import open_frame
from grading.stages.calibrated import with_calibration

HEAD = "shoot: 1\noriginals:\nlooks:\ndeliveries:\n"
NOTES = """
courses:
  exposure.stops: {at: {F1: 1}}
groups:
  a: {frames: [F1, F2, F3], exposure: {stops: 2}, lift: {shadows: 1}}
  b:
    frames: [F2]
    exposure: {stops: 3}
    looks: {salt-noon: {exposure: {stops: 4}}}
frames:
  F3:
    exposure: {stops: 5}
    looks: {salt-noon: {exposure: {stops: 6}}}
"""


def test_a_later_layer_wins_key_by_key(card, shoot):
    card(4)
    evening = shoot(NOTES, looks="[evenlight, salt-noon]")
    recipes = settle_all(evening)
    stops = {names: recipe.stages["exposure"].stops for names, recipe in recipes.items()}
    assert stops == {
        ("F1", "evenlight"): 2, ("F1", "salt-noon"): 2,
        ("F2", "evenlight"): 3, ("F2", "salt-noon"): 4,
        ("F3", "evenlight"): 5, ("F3", "salt-noon"): 6,
        ("F4", "evenlight"): 1, ("F4", "salt-noon"): 1,
    }  # fmt: skip
    assert list(recipes)[:2] == [("F1", "evenlight"), ("F1", "salt-noon")]
    assert recipes["F3", "evenlight"].stages["lift"].shadows == 1


def test_each_value_says_where_it_is_from(card, shoot):
    card(4)
    evening = shoot(NOTES, looks="[evenlight, salt-noon]")
    lines = (HEAD + NOTES).splitlines()
    for number, text, layer in (
        (1, "    exposure: {stops: 3}", "group b"),
        (2, "    exposure: {stops: 5}", "frame F3"),
        (3, "  exposure.stops: {at: {F1: 1}}", "course"),
    ):
        found = settle(evening, evening.frames[number], "evenlight").sources
        assert found["exposure.stops"] == f"evening.yaml:{lines.index(text) + 1}, {layer}"
        assert found["tone_curve.toe"] == "evenlight.yaml:19"
    found = settle(evening, evening.frames[2], "salt-noon").sources
    last = lines.index("    looks: {salt-noon: {exposure: {stops: 6}}}") + 1
    assert found["exposure.stops"] == f"evening.yaml:{last}, frame F3"
    assert found["lift.shadows"].endswith(", group a")


def test_null_takes_a_key_back_to_its_default(card, shoot):
    card(1)
    evening = shoot("frames: {F1: {lift: null, tone_curve: {toe: null}}}", looks="[harbour-dusk]")
    recipe = settle(evening, evening.frames[0], "harbour-dusk")
    assert recipe.stages["lift"].shadows == 0 and recipe.stages["tone_curve"].toe == 1
    assert recipe.stages["tone_curve"].contrast != 1


def test_another_way_to_state_white_drops_that_of_the_look(card, shoot, tmp_path):
    card(1)
    (tmp_path / "warm.yaml").write_text("grading: 1\nwhite_balance: {kelvin: 5000, duv: 0.01}\n")
    evening = shoot("frames: {F1: {white_balance: {as_shot: true}}}", looks="[warm]")
    stated = settle(evening, evening.frames[0], "warm").stages["white_balance"]
    assert stated.as_shot and stated.kelvin is None and stated.duv is None


def test_part_of_what_belongs_together_may_be_stated_alone(card, shoot):
    """Chroma goes with a hue, which the look states."""
    card(1)
    evening = shoot(
        "frames: {F1: {split_toning: {shadows: {chroma: 0.01}},"
        " local: {sky: {exposure: {stops: 1}}}}}",
        looks="[harbour-dusk]",
    )
    recipe = settle(evening, evening.frames[0], "harbour-dusk")
    assert recipe.stages["split_toning"].shadows.chroma == 0.01
    assert recipe.local["sky"].stages["exposure"].stops == 1
    assert recipe.local["sky"].where.gradient is not None


def test_a_value_that_is_not_possible_is_reported_once_at_its_place(card, shoot, tmp_path):
    card(3)
    evening = shoot(
        "groups: {g: {frames: ['*'], exposure: {stops: 99}}}\nframes: {F2: {lift: {shadow: 1}}}\n",
        looks="[evenlight, salt-noon]",
    )
    with pytest.raises(RecipeError) as caught:
        settle_all(evening)
    path = tmp_path / "evening.yaml"
    lines = str(caught.value).splitlines()
    assert lines[0] == f"{path}:5:47: exposure.stops = 99: more than 10; allowed: -10 to 10 stops"
    assert f"{path}:6:22: lift.shadow: unknown key; allowed: shadows, highlights; did you mean" in (
        str(caught.value)
    )


def test_a_note_that_reads_a_file_reads_it_beside_the_shoot_file(card, shoot, tmp_path):
    card(1)
    decision = (
        "<ColorCorrection xmlns='urn:ASC:CDL:v1.2' id='x'><SOPNode><Slope>1.1 1 1</Slope>"
        "<Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode></ColorCorrection>"
    )
    (tmp_path / "x.cc").write_text(decision)
    evening = shoot("frames: {F1: {cdl: {file: x.cc}}}")
    assert settle(evening, evening.frames[0], "evenlight").stages["cdl"].slope == [1.1, 1, 1]


CAMERA = """\
camera: 1
make: Invented
model: Camera
lights:
  - kelvin: 5000.0
    duv: 0.0
    matrix: [[0.8, -0.15, -0.08], [-0.5, 1.3, 0.2], [-0.02, 0.2, 0.7]]
    patches: 24
    before: {mean: 3.0, worst: 6.0}
    after: {mean: 1.0, worst: 3.0}
    frame: {name: chart.dng, sha256: ab}
"""


def test_a_levelled_white_is_told_as_the_calibrated_camera_sees_it(card, shoot, tmp_path):
    """The same neutral in camera light, with the camera file of a look or without one."""
    card(1)
    (tmp_path / "camera.yaml").write_text(CAMERA)
    (tmp_path / "plain.yaml").write_text("grading: 1\n")
    (tmp_path / "chart.yaml").write_text("grading: 1\nwhite_balance: {cameras: [camera.yaml]}\n")
    evening = shoot("level: {white: 1}", looks="[plain, chart]")
    frame, opened = evening.frames[0], open_frame(evening.frames[0].path)
    own = opened.facts.camera
    levelled = Levelled(frame, -3.0, 9.0, 0.0, 0.1, 5300.0, 4800.0, 0.002, 1, (), own)
    greys, whites = [], []
    for look in ("plain", "chart"):
        recipe = resolve(settle(evening, frame, look, {frame.name: levelled}), opened)
        whites.append(recipe.stages["white_balance"])
        facts = with_calibration(opened.facts, whites[-1].calibrations)
        xy = kelvin_duv_to_xy(whites[-1].kelvin, whites[-1].duv)
        greys.append(xy_to_neutral(facts.camera, xy))
    assert (whites[0].kelvin, whites[0].duv) == (4800.0, 0.002)
    assert abs(whites[1].kelvin - 4800) > 50
    assert greys[1] == pytest.approx(greys[0], rel=1e-6)


def test_a_levelled_white_that_the_calibrated_camera_cannot_see_is_reported(card, shoot, tmp_path):
    card(1)
    turned = CAMERA.replace("[-0.02, 0.2, 0.7]", "[-0.02, 0.05, 0.2]")
    (tmp_path / "camera.yaml").write_text(turned)
    (tmp_path / "chart.yaml").write_text("grading: 1\nwhite_balance: {cameras: [camera.yaml]}\n")
    evening = shoot("level: {white: 1}", looks="[chart]")
    frame = evening.frames[0]
    own = open_frame(frame.path).facts.camera
    levelled = Levelled(frame, -3.0, 9.0, 0.0, 0.1, 5300.0, 2100.0, 0.0, 1, (), own)
    with pytest.raises(RecipeError, match="F1.dng: the levelled white is none by the camera file"):
        settle(evening, frame, "chart", {frame.name: levelled})


def test_a_camera_of_a_note_is_read_beside_the_shoot_file(card, shoot, tmp_path):
    card(2)
    (tmp_path / "camera.yaml").write_text(CAMERA)
    evening = shoot("frames: {F1: {white_balance: {cameras: [camera.yaml]}}}")
    first, second = (settle(evening, frame, "evenlight") for frame in evening.frames)
    assert first.stages["white_balance"].calibrations[0].model == "Camera"
    assert second.stages["white_balance"].calibrations is None


def test_spots_of_a_file_are_mended_in_every_frame(card, shoot, tmp_path):
    card(2)
    text = "grading: 1\nspots: {dust: [{at: [0.5, 0.4], radius: 0.02}]}\n"
    (tmp_path / "dust.yaml").write_text(text)
    evening = shoot("spots: dust.yaml\n")
    for recipe in settle_all(evening).values():
        (spot,) = recipe.parts["spots"].dust
        assert list(spot.at) == [0.5, 0.4]
        assert any(source == "dust.yaml:2, spots" for source in recipe.sources.values())


DUST = "grading: 1\nspots: {{{owner}dust: [{{at: [{x}, 0.4], radius: 0.02}}]}}\n"


def _two_cameras(card, tmp_path):
    """Four frames, the even ones of a second camera; a list of each, and one of none."""
    for number, path in enumerate(sorted(card(4).iterdir())):
        if number % 2:
            path.write_bytes(path.read_bytes().replace(b"Camera\0", b"Second\0"))
    for name, owner, x in (
        ("first", "camera: Invented Camera, ", 0.1), ("second", "camera: Invented Second, ", 0.2),
        ("any", "", 0.3), ("body", "camera: Invented Camera, serial: '7', ", 0.4),
    ):  # fmt: skip
        (tmp_path / f"{name}.yaml").write_text(DUST.format(owner=owner, x=x))


@pytest.mark.parametrize(
    ("names", "expected"),
    [
        ("first.yaml", [0.1, None]),
        ("[second.yaml, first.yaml]", [0.1, 0.2]),
        ("[any.yaml, second.yaml]", [0.3, 0.2]),
        ("[first.yaml, body.yaml]", [0.4, None]),
    ],
)
def test_dust_is_mended_in_frames_of_its_camera(card, shoot, tmp_path, names, expected):
    _two_cameras(card, tmp_path)
    evening = shoot(f"spots: {names}\n")
    for number, recipe in enumerate(settle_all(evening).values()):
        dust = recipe.parts["spots"].dust
        assert (dust[0].at[0] if dust else None) == expected[number % 2]
    said = "no dust is mended in 2 frames that no list of spots is for, of Invented Second"
    assert (evening.remarks == [said]) == (None in expected)


def test_two_lists_of_one_camera_are_refused(card, shoot, tmp_path):
    _two_cameras(card, tmp_path)
    with pytest.raises(RecipeError, match=r"yaml:5:21: spots: any.yaml is a second list of a cam"):
        (tmp_path / "first.yaml").write_text(DUST.format(owner="", x=0.1))
        shoot("spots: [first.yaml, any.yaml]\n")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("grading: 1\nexposure: {stops: 1}\n", "states exposure, too"),
        (None, "spots = dust.yaml: there is no such file"),
    ],
)
def test_a_file_of_spots_that_is_none_is_refused_with_its_place(card, shoot, tmp_path, text, said):
    card(1)
    if text:
        (tmp_path / "dust.yaml").write_text(text)
    with pytest.raises(RecipeError) as caught:
        shoot("spots: dust.yaml\n")
    assert said in str(caught.value) and "evening.yaml:5:8" in str(caught.value)
