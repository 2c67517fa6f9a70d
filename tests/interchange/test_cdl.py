"""Exported colour decisions: exact where they can be, and read back by the stage and others."""

import numpy as np
import pytest

from frames_in_memory import frame, planes_of, recipe
from grading.cdl_text import Decision, read_decision
from grading.colour import spaces, transfer
from grading.engine.execute import render
from grading.engine.output import Output
from grading.interchange.cdl import apply_decision, export_cdl
from grading.recipe.load import load_recipe

NUMBERS = {
    "slope": [1.1, 1.123456789, 0.9],
    "offset": [0.01, 0.0, -0.02],
    "power": [1.2, 1.0, 0.8],
    "saturation": 0.85,
}
SET_1 = Decision((1.35, 1.1, 0.071), (0.05, -0.23, 0.11), (0.93, 0.81, 1.27), 1.23)


def delivered(look, codes):
    """sRGB codes that a delivery has for the light behind sRGB codes (n, 3)."""
    to_working = spaces.rgb_to_rgb(spaces.SPACES["srgb"], spaces.WORKING)
    light = transfer.decode("srgb", codes) @ to_working.T
    array = render(frame(planes_of(light)), look, Output("tiff")).array
    return array.reshape(-1, 3) / 65535


def exported(look, tmp_path):
    """A recipe that does nothing but the exported decision, by way of its file."""
    (tmp_path / "look.cc").write_text(export_cdl(look)[0])
    (tmp_path / "look.yaml").write_text("grading: 1\ncdl: {file: look.cc}\n")
    return load_recipe(tmp_path / "look.yaml")


def test_published_values():
    # as in tests/stages/test_cdl.py
    codes = np.array([(0.25, 0.5, 0.75), (0.3278, 0.01, 1.0), (0.0, 0.8, 0.99)])
    expected = [
        (0.422056, 0.401466, 0.035820),
        (0.609399, 0.0, 0.113130),
        (0.0, 0.746748, 0.018691),
    ]
    np.testing.assert_allclose(apply_decision(codes, SET_1), expected, atol=1e-6)


def test_a_decision_is_exported_as_it_is(tmp_path):
    look = recipe(cdl=NUMBERS)
    assert exported(look, tmp_path).stages["cdl"] == look.stages["cdl"]
    assert [s.partition(":")[0] for s in export_cdl(look)[1]] == ["white_balance"]


def test_a_decision_that_is_fitted_is_found_again():
    look = recipe(exposure={"stops": 1e-6}, cdl=NUMBERS)
    found = read_decision(export_cdl(look)[0], "fitted")
    for name, value in NUMBERS.items():
        np.testing.assert_allclose(getattr(found, name), value, atol=1e-3)


def test_a_number_without_effect_stays_as_it_is():
    """Where every code becomes black, the power and the saturation of black are nothing."""
    black = recipe(exposure={"stops": 1.0}, cdl={"slope": [0.0] * 3})
    found = read_decision(export_cdl(black)[0], "fitted")
    assert np.allclose(apply_decision(np.linspace(0, 1, 30).reshape(10, 3), found), 0, atol=1e-4)
    assert [*found.power, found.saturation] == pytest.approx([1.0] * 4, abs=1e-3)


def test_a_title_that_no_xml_can_hold_is_written_out():
    # XML 1.0, 2.2: most controls may not occur at all
    look = recipe(title="a\x1b[2J\u202e<b>\n")
    text = export_cdl(look)[0]
    assert r"a\x1b[2J\u202e" in text and "\x1b" not in text and "\u202e" not in text
    read_decision(text, "exported")


@pytest.mark.parametrize("stops", [-1.5, -0.5, 0.5, 1.0])
def test_exposure_is_a_slope_and_an_offset(stops, tmp_path):
    # a factor on light is, but for the straight toe, one on (code + 0.055), IEC 61966-2-1
    look = recipe(exposure={"stops": stops})
    found = read_decision(export_cdl(look)[0], "fitted")
    gain = 2 ** (stops / 2.4)
    np.testing.assert_allclose(found.slope, gain, atol=0.012)
    np.testing.assert_allclose(found.offset, 0.055 * (gain - 1), atol=0.012)
    greys = np.repeat(np.linspace(0.05, 1, 100)[:, None], 3, axis=1)
    off = delivered(exported(look, tmp_path), greys) - delivered(look, greys)
    assert np.abs(off).max() < 4 / 1023


def test_the_stated_fit_holds_for_a_delivery(tmp_path):
    look = load_recipe("evenlight")
    _, sentences = export_cdl(look)
    words = next(s for s in sentences if s.startswith("fit:")).split()
    largest = float(words[words.index("most") + 1])
    greys = np.repeat(np.linspace(0, 1, 200)[:, None], 3, axis=1)
    off = 1023 * np.abs(delivered(exported(look, tmp_path), greys) - delivered(look, greys))
    assert 1 < off.max() <= largest + 1


def test_greys_of_a_look_without_tints_stay_grey(tmp_path):
    greys = np.repeat(np.linspace(0, 1, 200)[:, None], 3, axis=1)
    off = delivered(exported(load_recipe("evenlight"), tmp_path), greys)
    assert np.ptp(off, axis=1).max() < 5 / 1023


@pytest.mark.parametrize(
    "look", [{"levels": {"black": -1.0}, "exposure": {"stops": -10}}, {"exposure": {"stops": 6}}]
)
def test_numbers_that_a_look_leaves_open_stay_near_to_no_effect(look):
    """Where all is black no power tells, and where nearly all is white no saturation."""
    found = read_decision(export_cdl(recipe(**look))[0], "fitted")
    assert 0.4 < min(found.power) <= max(found.power) < 2
    assert found.saturation == pytest.approx(1, abs=0.1)


def test_another_library_applies_it_alike(tmp_path):
    ocio = pytest.importorskip("PyOpenColorIO", reason="an independent ASC CDL")
    look = recipe(tone_curve={"contrast": 1.2}, cdl=NUMBERS)
    path = tmp_path / "other.cc"
    path.write_text(export_cdl(look)[0])
    transform = ocio.CDLTransform.CreateFromFile(str(path), "test")
    transform.setStyle(ocio.CDL_ASC)
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    codes = np.random.default_rng(0).uniform(0, 1, (5000, 3))
    out = codes.astype(np.float32)
    processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE).applyRGB(out)
    assert np.abs(delivered(exported(look, tmp_path), codes) - out).max() < 1e-4


def test_what_is_left_out_is_reported():
    look = load_recipe("harbour-dusk")
    text, sentences = export_cdl(look)
    starts = [sentence.partition(":")[0] for sentence in sentences]
    assert starts == ["white_balance", "lift", "local.sky", "fit", "highlights"]
    assert all(f"<Description>{sentence}</Description>" in text for sentence in sentences)


def test_the_text_is_the_same_each_time():
    look = load_recipe("evenlight")
    assert export_cdl(look) == export_cdl(look)


def test_framing_is_reported_as_left_out():
    look = recipe(framing={"straighten": 1.0})
    assert "framing: it is about the frame, not about single colours." in export_cdl(look)[1]
