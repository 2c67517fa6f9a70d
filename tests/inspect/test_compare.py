"""Differences between pictures, on pairs whose differences are known."""

import colour
import numpy as np
import pytest

from grading.colour import munsell, oklab, spaces
from grading.inspect.compare import (
    LIMITS,
    compare,
    difference_map,
    largest_place,
    tristimulus,
)

# G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation
# notes, supplementary test data, and mathematical observations", Color Research and
# Application 30 (2005), table 1, rows 1, 7, 16, 17, 28, 34.
PAIRS = np.array(
    [
        [50.0000, 2.6772, -79.7751, 50.0000, 0.0000, -82.7485, 2.0425],
        [50.0000, 0.0000, 0.0000, 50.0000, -1.0000, 2.0000, 2.3669],
        [50.0000, 2.5000, 0.0000, 50.0000, 0.0000, -2.5000, 4.3065],
        [50.0000, 2.5000, 0.0000, 73.0000, 25.0000, -18.0000, 27.1492],
        [35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645],
        [2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082],
    ]
)


def xyz_of_lab(lab):
    return colour.Lab_to_XYZ(lab, spaces.D65)


def picture(lightness, chroma, hue):
    """XYZ of Oklab lightness, chroma and hue in degrees."""
    lightness, chroma, hue = np.broadcast_arrays(lightness, chroma, np.radians(hue))
    lab = np.stack([lightness, chroma * np.cos(hue), chroma * np.sin(hue)], axis=-1)
    return np.atleast_3d(oklab.oklab_to_xyz(lab.reshape(-1, 8, 3)))


def varied(shape=(16, 8), seed=1):
    rng = np.random.default_rng(seed)
    return rng.uniform(0.1, 0.9, shape), rng.uniform(0.05, 0.2, shape), rng.uniform(0, 360, shape)


def test_map_of_the_published_pairs():
    first, second = xyz_of_lab(PAIRS[None, :, :3]), xyz_of_lab(PAIRS[None, :, 3:6])
    assert difference_map(first, second)[0] == pytest.approx(PAIRS[:, 6], abs=2e-4)


def test_figures_of_the_published_pairs():
    measured = compare(xyz_of_lab(PAIRS[None, :, :3]), xyz_of_lab(PAIRS[None, :, 3:6]))
    published = PAIRS[:, 6]
    assert measured.mean == pytest.approx(published.mean(), abs=2e-4)
    assert measured.median == pytest.approx((2.0425 + 2.3669) / 2, abs=2e-4)
    assert measured.largest == pytest.approx(27.1492, abs=2e-4)
    assert measured.over == pytest.approx({1: 5 / 6, 2: 4 / 6, 5: 1 / 6})
    assert tuple(measured.over) == LIMITS


@pytest.mark.parametrize(("pixels", "limit"), [(12, 27.1492), (8, 0.0)])
def test_what_95_percent_of_the_pixels_stay_below(pixels, limit):
    """6 % of 200 pixels differ by a published pair, then 4 %."""
    first = np.tile(PAIRS[3, :3], (1, 200, 1))
    second = first.copy()
    second[0, :pixels] = PAIRS[3, 3:6]
    compared = compare(xyz_of_lab(first), xyz_of_lab(second))
    assert compared.percentile_95 == pytest.approx(limit, abs=2e-4)


def test_codes_as_colour_science_takes_them():
    codes = np.random.default_rng(2).integers(0, 65536, (5, 7, 3), np.uint16)
    for name, theirs in (("srgb", "sRGB"), ("display-p3", "Display P3")):
        expected = colour.RGB_to_XYZ(codes / 65535, theirs, apply_cctf_decoding=True)
        assert tristimulus(codes, name) == pytest.approx(expected, abs=2e-4)


def test_eight_and_sixteen_bits_mean_the_same():
    codes = np.arange(192, dtype=np.uint8).reshape(8, 8, 3)
    wide = codes.astype(np.uint16) * 257
    assert np.allclose(tristimulus(codes, "srgb"), tristimulus(wide, "srgb"), rtol=0, atol=1e-12)


def test_a_shift_is_found_as_it_was_made():
    lightness, chroma, hue = varied()
    measured = compare(
        picture(lightness, chroma, hue), picture(lightness + 0.05, chroma + 0.03, hue + 20)
    )
    shifts = [measured.whole, *measured.tones.values(), *measured.families.values()]
    for shift in shifts:
        assert shift.lightness == pytest.approx(0.05)
        assert shift.chroma == pytest.approx(0.03)
        assert shift.hue == pytest.approx(20)
    for groups in (measured.tones, measured.families):
        assert sum(shift.share for shift in groups.values()) == pytest.approx(1)


def test_hue_turns_the_short_way_across_zero():
    measured = compare(picture(0.5, 0.1, np.full(8, 355.0)), picture(0.5, 0.1, np.full(8, 7.0)))
    assert measured.whole.hue == pytest.approx(12)


def test_thirds_are_those_of_the_first_picture():
    lightness = np.array([0.1, 0.3, 0.4, 0.5, 0.6, 0.7, 0.9, 1.0])
    measured = compare(picture(lightness, 0.0, 0.0), picture(lightness[::-1], 0.0, 0.0))
    assert {name: shift.share for name, shift in measured.tones.items()} == {
        "dark": 2 / 8,
        "middle": 3 / 8,
        "light": 3 / 8,
    }
    assert measured.tones["dark"].lightness == pytest.approx(((1.0 - 0.1) + (0.9 - 0.3)) / 2)


def test_families_are_those_of_the_renotation():
    hue = np.arange(0, 360, 0.5)
    for chroma, coloured in ((0.0201, True), (0.0199, False)):  # 0.02 is where a hue begins
        before = picture(0.6, chroma, hue)
        families = compare(before, before).families
        expected = [munsell.family(h) for h in hue] if coloured else []
        shares = {name: expected.count(name) / hue.size for name in set(expected)}
        assert {name: s.share for name, s in families.items()} == pytest.approx(shares, abs=0.002)


def test_the_same_picture_differs_by_nothing():
    before = picture(*varied())
    measured = compare(before, before)
    assert measured.largest == 0
    assert measured.over == {1: 0, 2: 0, 5: 0}
    assert measured.whole.hue == pytest.approx(0, abs=1e-9)


def test_greys_turn_by_nothing():
    grey = picture(np.linspace(0.1, 0.9, 8), 0.0, 0.0)
    assert compare(grey, grey * 1.5).whole.hue == 0


@pytest.mark.parametrize("hue", [1.0, -40.0])
def test_the_turn_of_pale_colours_is_found(hue):
    """Of eight pixels with an Oklab chroma of 0.004, which is next to grey."""
    before, after = picture(0.5, 0.004, np.full(8, 80.0)), picture(0.5, 0.004, np.full(8, 80 + hue))
    assert compare(before, after).whole.hue == pytest.approx(hue, abs=0.01)


def test_the_place_that_differs_most():
    delta_e = np.ones((60, 80))
    delta_e[20:28, 50:58] = 6
    delta_e[5, 5] = 90  # one odd pixel weighs less than a patch
    assert largest_place(delta_e, 8) == pytest.approx((54 / 80, 24 / 60))
    assert largest_place(delta_e, 500) == (0.5, 0.5)


def test_families_meet_where_one_ends_and_the_next_begins():
    for i, after in enumerate(munsell.FAMILIES):
        before = munsell.FAMILIES[i - 1]
        edge = munsell.hue_degrees(f"0{after}")
        beside = picture(0.6, 0.1, np.repeat([edge - 0.5, edge + 0.5], 8))
        assert set(compare(beside, beside).families) == {before, after}


def test_black_and_white_count_among_the_tones():
    ends = picture(np.repeat([0.0, 1 + 1e-9], 8), 0, 0)  # white, but for rounding
    shares = {name: shift.share for name, shift in compare(ends, ends).tones.items()}
    assert shares == {"dark": 0.5, "light": 0.5}


@pytest.mark.parametrize("kind", [np.uint8, np.uint16])
def test_the_highest_code_is_white(kind):
    white = np.full((1, 1, 3), np.iinfo(kind).max, kind)
    assert tristimulus(white, "srgb")[0, 0] == pytest.approx(spaces.xy_to_xyz(spaces.D65))
