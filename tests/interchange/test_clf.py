"""CLF files, read and applied by another library, against the engine's own output."""

from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest

from frames_in_memory import frame, planes_of, recipe
from grading.colour import oklab, spaces, transfer
from grading.engine.execute import render
from grading.engine.output import Output
from grading.errors import OutputError
from grading.interchange.clf import export_clf
from grading.interchange.lattice import in_domain
from grading.interchange.portable import portable_look
from grading.recipe.inheritance import look_names
from grading.recipe.load import load_recipe
from grading.stages.lift import Lift
from grading.stages.vignette import Vignette

CODE = 1 / 1023


def of_single_colours(name):
    """What of a shipped look acts on single colours: it needs no surroundings and no place."""
    look = load_recipe(name)
    return replace(look, parts={**look.parts, "lift": Lift(), "vignette": Vignette()}, local={})


LOOKS = {
    "plain": recipe(),
    "light": recipe(
        white_balance={"shift": 20.0}, exposure={"stops": 0.5}, levels={"black": -6.0, "white": 3.0}
    ),
    "contrast": recipe(tone_curve={"contrast": 1.4, "white": 4.0, "shoulder": 0.1, "toe": 0.4}),
    "toned": recipe(
        white_balance={"shift": -25.0},
        tone_curve={"contrast": 1.25, "white": 4.5, "shoulder": 0.1, "black": -8.5, "toe": 0.5},
        split_toning={
            "shadows": {"hue": 270.0, "chroma": 0.03},
            "highlights": {"hue": 60.0, "chroma": 0.03, "lightness": -0.02},
        },
        hues={"lamps": {"centre": 45.0, "width": 70.0, "saturation": 0.3, "shift": 5.0}},
    ),
    "decided": recipe(
        exposure={"stops": 0.5},
        cdl={"slope": [1.1, 1.0, 0.9], "power": [0.9, 1.0, 1.1], "saturation": 0.8},
    ),
    **{name: of_single_colours(name) for name in look_names()},
}


@cache
def exported(name, space):
    """`export_clf` of a look above, or of all of a shipped one, once for all tests."""
    return export_clf(load_recipe(name) if name in look_names() else LOOKS[name], space)


def stated(name, space):
    """The codes of 10 bits within which such a file says to be."""
    return float(exported(name, space)[1][-1].split("within ")[1].split(" codes")[0])


def apply(text, light, tmp_path):
    """Encoded values of light (n, 3), as the other library reads and applies a file."""
    ocio = pytest.importorskip("PyOpenColorIO", reason="reads and applies CLF")
    path = tmp_path / "look.clf"
    path.write_text(text)
    transform = ocio.FileTransform(str(path))
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    out = np.ascontiguousarray(light, np.float32)
    processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE).applyRGB(out)
    return out


def graded(look, light, space):
    """Encoded values of light (n, 3), as the engine delivers them."""
    array = render(frame(planes_of(light)), look, Output("tiff", space)).array
    return array.reshape(-1, 3) / 65535


def within_domain(look, light, space):
    portable = portable_look(look)
    light = light @ portable.light[:, :3].T + portable.light[:, 3]
    return in_domain(portable, oklab.working_to_oklab(light), spaces.SPACES[space])[0]


def ramp():
    """Greys and six colours of three chromas, over sixteen stops about middle grey."""
    hues = np.radians(np.arange(0, 360, 60))
    chroma = np.concatenate([[0], np.repeat([0.03, 0.1, 0.2], 6)])
    hues = np.concatenate([[0], np.tile(hues, 3)])
    lightness = np.cbrt(0.18 * np.exp2(np.linspace(-10, 6, 400)))[:, None]
    lab = np.stack(
        [
            lightness + 0 * chroma,
            lightness * chroma * np.cos(hues),
            lightness * chroma * np.sin(hues),
        ],
        axis=-1,
    )
    return oklab.oklab_to_working(lab.reshape(-1, 3))


def photograph():
    """A photograph's light, at its own exposure and two stops above and below."""
    data = pytest.importorskip("skimage.data", reason="carries a photograph")
    codes = data.astronaut()[::3, ::3].reshape(-1, 3) / 255
    to_working = spaces.rgb_to_rgb(spaces.SPACES["srgb"], spaces.WORKING)
    light = transfer.decode("srgb", codes) @ to_working.T
    return np.concatenate([light / 4, light, light * 4])


CASES = [
    ("plain", "srgb"),
    ("light", "display-p3"),
    ("contrast", "srgb"),
    ("contrast", "bt2020"),
    ("toned", "srgb"),
    ("cinder-walk", "srgb"),  # the hardest
]


@pytest.mark.parametrize(("name", "space"), CASES)
@pytest.mark.parametrize("colours", [ramp, photograph])
def test_it_is_within_a_code_of_ten_bits(name, space, colours, tmp_path):
    light = colours()
    light = light[within_domain(LOOKS[name], light, space)]
    assert len(light) > 1000
    off = apply(exported(name, space)[0], light, tmp_path) - graded(LOOKS[name], light, space)
    assert np.abs(off).max() < CODE


@pytest.mark.parametrize("space", ["srgb", "bt2020"])
def test_a_decision_is_carried_as_it_is(space, tmp_path):
    light = ramp()
    light = light[within_domain(recipe(exposure={"stops": 0.5}), light, "srgb")]
    text, _ = exported("decided", space)
    assert "<ASC_CDL" in text
    off = apply(text, light, tmp_path) - graded(LOOKS["decided"], light, space)
    assert np.abs(off).max() < CODE / 2


def test_the_stated_difference_is_the_measured_one(tmp_path):
    text, _ = exported("toned", "srgb")
    light = np.concatenate([ramp(), photograph()])
    light = light[within_domain(LOOKS["toned"], light, "srgb")]
    off = apply(text, light, tmp_path) - graded(LOOKS["toned"], light, "srgb")
    most = stated("toned", "srgb")
    assert 0.2 * most < np.abs(off).max() / CODE < most


def random_light(space, rng, count=60000):
    """Light of all kinds: even over the space's cube and dimmer, and near grey over 17 stops."""
    cube = rng.random((count, 3)) * np.exp2(rng.uniform(-9, 2.5, (count, 1)))
    grey = 0.18 * np.exp2(rng.uniform(-12, 5, (count, 1)))
    near = grey * np.exp(rng.normal(0, 0.12, (count, 3)))
    rgb = np.concatenate([rng.random((count, 3)), cube, near])
    return rgb @ spaces.rgb_to_rgb(spaces.SPACES[space], spaces.WORKING).T


def worse(light, off, rng, spread, count=300):
    """Light near the colours that are furthest off, in all directions."""
    worst = light[np.argsort(off)[-count:]]
    return np.tile(worst, (100, 1)) * np.exp(rng.normal(0, spread, (100 * count, 3)))


def off_by(name, space, light, tmp_path):
    """Light within a shipped look's domain, and how many codes of 10 bits its file is off."""
    light = light[within_domain(LOOKS[name], light, space)]
    off = apply(exported(name, space)[0], light, tmp_path) - graded(LOOKS[name], light, space)
    return light, np.abs(off).max(axis=1) / CODE


OTHER_SPACES = [pytest.param(space, marks=pytest.mark.slow) for space in ("display-p3", "bt2020")]


@pytest.mark.parametrize("space", ["srgb", *OTHER_SPACES])
@pytest.mark.parametrize("name", look_names())
def test_no_colour_is_further_off_than_a_shipped_look_states(name, space, tmp_path):
    """Random colours, then ever closer about those that are furthest off."""
    rng = np.random.default_rng(len(name))
    light, off = off_by(name, space, random_light(space, rng), tmp_path)
    assert len(light) > 30000
    for spread in (0.03, 0.01, 0.003, 0.001):
        more, more_off = off_by(name, space, worse(light, off, rng, spread), tmp_path)
        light, off = np.concatenate([light, more]), np.concatenate([off, more_off])
    assert 0.6 * stated(name, space) < off.max() < stated(name, space)


def test_greys_beyond_white_are_white(tmp_path):
    light = np.repeat(np.array([[4.0], [16.0], [1000.0]]), 3, axis=1)
    assert apply(exported("contrast", "srgb")[0], light, tmp_path) == pytest.approx(1, abs=CODE / 2)


@pytest.mark.parametrize("name", ["harbour-dusk", "salt-noon"])
def test_a_shipped_look_says_what_is_left_out(name):
    look = load_recipe(name)
    text, sentences = exported(name, "srgb")
    starts = [sentence.partition(":")[0] for sentence in sentences]
    local = [f"local.{key}" for key in look.local]
    assert starts == ["white_balance", "lift", *local, "gamut", "domain"]
    assert len(text) < 10e6
    root = ElementTree.fromstring(text)
    described = [e.text for e in root if e.tag.endswith("}Description")]
    assert described == [look.description, *sentences]


def test_the_text_is_the_same_each_time():
    again = export_clf(LOOKS["contrast"])
    assert again == exported("contrast", "srgb")
    assert again[0] != exported("toned", "srgb")[0]


def test_light_alone_needs_no_lattice():
    text, sentences = exported("light", "display-p3")
    assert "LUT" not in text
    assert "+20 mired" in sentences[0]
    assert sentences[-1] == "domain: the file is exact for every colour within Display P3."


def test_another_space_is_an_error():
    with pytest.raises(OutputError):
        export_clf(LOOKS["plain"], "xyz")


def test_a_title_that_no_xml_can_hold_is_written_out():
    # XML 1.0, 2.2: most controls may not occur at all
    text, _ = export_clf(recipe(title="a\x1b[2J\u202e"))
    assert ElementTree.fromstring(text).get("name") == r"a\x1b[2J\u202e"


def test_a_vignette_is_left_out_and_said_to_be():
    text, sentences = export_clf(recipe(vignette={"stops": -1.0}))
    assert sentences[1] == "vignette: it depends on the place in the frame."
    assert text.count("<LUT3D") == export_clf(recipe())[0].count("<LUT3D")
