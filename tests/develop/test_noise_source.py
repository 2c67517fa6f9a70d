"""Which noise a frame is taken to have."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from frames_in_memory import facts
from grading.develop.mosaic import MosaicPixels
from grading.develop.noise_source import LARGEST_WELL, SMALLEST_WELL, settle, with_shown
from grading.frame import Frame, Measured, Noise, NoiseSource, Shown
from kernels.raws import sensor

TRUE = Noise(2e-4, 1e-6)
SURE = Measured(TRUE, 0.12, 0.4, True)
TEXTURE = Measured(Noise(4e-3, 1e-5), 0.12, 0.0, False)


def test_a_frame_that_is_sure_has_its_own():
    assert settle(SURE, 800) == (TRUE, NoiseSource("measured in this frame", SURE))


@pytest.mark.parametrize("measured", [SURE, TEXTURE, None])
def test_what_the_file_states_comes_first(measured):
    noise, source = settle(measured, 800, (1.6e-4, 9e-7))
    assert noise == (1.6e-4, 9e-7)
    assert source.name == "stated in the file" and source.sure and source.measured == measured


@pytest.mark.parametrize(
    ("measured", "stated"),
    [
        (SURE, (8e-4, 1e-6)),
        (SURE, (5e-5, 1e-7)),
        (TEXTURE, (9e-3, 1e-5)),
        *((SURE, pair) for pair in ((0.0, 0.0), (-1e-4, 1e-6), (2e-4, -1e-6), (2.0, 1e-6))),
        *((SURE, pair) for pair in ((np.nan, 1e-6), (2e-4, np.inf))),
    ],
)
def test_what_cannot_be_is_not_believed(measured, stated):
    """Negative, none at all, or twice as far from the frame as chance and texture explain."""
    assert settle(measured, 800, stated) == settle(measured, 800)


def test_a_profile_below_texture_is_believed():
    """Texture adds any amount."""
    assert settle(TEXTURE, 800, (1e-5, 1e-8))[0] == (1e-5, 1e-8)


def test_no_sensor_holds_so_few_electrons():
    """White texture may look like noise, but not like less than 2500 electrons at ISO 100."""
    for iso, sure in ((100, False), (800, True)):
        measured = Measured(Noise(0.9 * 8 / SMALLEST_WELL, 1e-6), 0.12, 0.4, True)
        assert settle(measured, iso)[1].sure == sure


@pytest.mark.parametrize("iso", [100, 3200, None])
def test_an_unsure_frame_is_bound_by_the_largest_sites(iso):
    noise, source = settle(TEXTURE, iso)
    assert source.name == "bound by the ISO speed" and not source.sure
    assert noise.gain == pytest.approx((iso or 100) / 100 / LARGEST_WELL)
    assert noise.offset <= TEXTURE.noise.offset


def test_a_bound_is_no_floor():
    low = Measured(Noise(1e-6, 1e-9), 0.12, 0.0, False)
    assert settle(low, 3200)[0] == low.noise


def test_a_frame_that_tells_nothing_has_none():
    assert settle(None, 100) == (Noise(0.0, 0.0), NoiseSource("bound by the ISO speed"))


def opened(measured, iso=800):
    noise, source = settle(measured, iso)
    own = sensor((16, 16), noise=tuple(noise))
    pixels = MosaicPixels(np.zeros((16, 16), np.uint16), own, np.ones(3, np.float32), None, 1)
    return Frame(replace(facts(16, 16), noise=noise, noise_source=source), pixels)


def test_what_others_show_is_taken_where_a_frame_is_not_sure():
    shown = Shown(TRUE, 3)
    frame = with_shown(opened(TEXTURE), shown)
    assert frame.facts.noise == frame.pixels.sensor.noise == TRUE
    source = frame.facts.noise_source
    assert (source.name, source.shown) == ("shown by other frames of the camera", shown)
    assert source.measured == TEXTURE


def test_it_is_no_more_than_the_frame_has_at_its_level():
    """Texture only adds, so a frame with less noise than shown has less: half of it, here."""
    half = Measured(Noise(1e-4, 5e-7), 0.12, 0.0, False)
    noise = with_shown(opened(half), Shown(TRUE, 3)).facts.noise
    assert noise == pytest.approx((1e-4, 5e-7))


def test_others_change_nothing_for_a_sure_frame_and_none_show_nothing():
    sure, unsure = opened(SURE), opened(TEXTURE)
    assert with_shown(sure, Shown(Noise(1e-5, 0.0), 3)) is sure
    assert with_shown(unsure, None) is unsure
    rendered = SimpleNamespace(facts=facts(3, 3))
    assert with_shown(rendered, Shown(TRUE, 1)) is rendered


def test_a_frame_that_tells_nothing_takes_what_is_shown():
    assert with_shown(opened(None), Shown(TRUE, 1)).facts.noise == TRUE
