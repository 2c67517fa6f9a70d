"""Colours outside of a gamut must keep hue and lightness, and neighbours stay neighbours."""

import pytest

from grading.engine.output import RGB_SPACES
from truth import gamut

pytestmark = pytest.mark.truth

each_space = pytest.mark.parametrize("space", gamut.NARROWER)


def test_reference_gives_the_published_values():
    """To the digits that are printed."""
    assert gamut.reference_error() < 5.1e-4


@each_space
def test_hue_and_lightness_are_kept(space):
    mapping = gamut.measure_mapping(space)
    assert mapping.turn < 2
    assert mapping.turn < mapping.css_turn
    assert mapping.lightness < 0.001


@each_space
def test_chroma_given_up_beyond_css_is_below_what_is_seen(space):
    assert -gamut.JND < gamut.measure_mapping(space).chroma_to_css <= 0


@each_space
def test_channels_keep_their_order_but_for_small_leads(space):
    """A line of even Oklab hue bends in RGB, so that a small lead may turn; see CSS."""
    mapping = gamut.measure_mapping(space)
    assert mapping.reversed_lead < 0.12


@each_space
@pytest.mark.parametrize("sweep", gamut.blues())
def test_blues_rise_without_bands(sweep, space):
    """Edges of a gamut are kinks for any method that keeps hue; so CSS is the measure of them."""
    found = gamut.measure_sweep(sweep, space)
    assert found.backward < 5e-4
    assert found.run == 1
    assert found.stretch < 1.3 * found.css_stretch
    assert found.bend < 1.5 * found.css_bend


@each_space
def test_boundary_is_crossed_without_a_step(space):
    assert gamut.boundary_stretch(space) < 1.05


@pytest.mark.parametrize("space", RGB_SPACES)
def test_no_hue_is_torn_from_the_next(space):
    """Beside blue, lines of even hue and lightness leave the gamut and come back; see
    `grading.colour.gamut`."""
    assert gamut.measure_jump(space).step < 0.002
