"""Hue must be kept where tone is changed, and change smoothly where it is asked to."""

import pytest

from truth.hues import (
    KEEPING,
    measure_families,
    measure_kept,
    measure_toning,
    measure_windows,
)

pytestmark = pytest.mark.truth


@pytest.mark.parametrize("name", KEEPING)
def test_tone_leaves_hue_alone(name):
    kept = measure_kept(name)
    assert kept.judged > 0.75
    assert kept.turn < 1


def test_three_equal_tints_are_one_even_tint():
    assert measure_toning().uneven < 1e-4


def test_opposite_tints_cancel_where_balance_says():
    assert measure_toning().unbalanced < 1e-4


def test_windows_have_no_seam():
    assert measure_windows().seam < 0.1


def test_windows_change_as_steeply_as_their_shape_says():
    windows = measure_windows()
    assert windows.stretch == pytest.approx(windows.expected_stretch, rel=0.05)


def test_windows_leave_greys_alone():
    assert measure_windows().grey < 1e-4


def test_windows_named_by_family_find_their_chips():
    families = measure_families()
    assert families.chips == 2374
    assert families.inner > 0.95
    assert families.all_steps > 0.8
