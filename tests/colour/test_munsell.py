"""Hue names against the Munsell renotation data that colour-science carries.

Run as a script, this module prints the table of `grading.colour.munsell`.
"""

import re

import numpy as np
import pytest

from grading.colour.adaptation import cat16
from grading.colour.munsell import _HUES, FAMILIES, family, hue_degrees
from grading.colour.oklab import hue, xyz_to_oklab
from grading.colour.spaces import D65, xy_to_xyz

C = (0.31006, 0.31616)
"""CIE illuminant C, under which the renotation was measured (Newhall et al. 1943)."""


def chips():
    """Hue number 0 to 100, chroma and Oklab hue of the real renotation chips."""
    from colour import MUNSELL_COLOURS

    names, xyy = zip(*MUNSELL_COLOURS["Munsell Colours Real"], strict=True)
    numbers = []
    for name, _, _ in names:
        step, letters = re.fullmatch(r"([\d.]+)([A-Z]+)", name).groups()
        numbers.append(10 * FAMILIES.index(letters) + float(step))
    xyy = np.array(xyy, dtype=np.float64)
    xyz = xy_to_xyz(xyy[:, :2]) * xyy[:, 2:] / 100
    lab = xyz_to_oklab(xyz @ cat16(xy_to_xyz(C), xy_to_xyz(D65)).T)
    return np.array(numbers), np.array([float(chroma) for _, _, chroma in names]), hue(lab)


def table(numbers, chroma, hues):
    """Mean Oklab hue of each of the 40 hues, rising, shape (10, 4)."""
    unit = np.exp(1j * np.radians(hues))
    means = [
        np.degrees(np.angle(unit[(numbers == number) & (chroma >= 4)].mean())) % 360
        for number in np.arange(2.5, 100.1, 2.5)
    ]
    return np.unwrap(means, period=360).reshape(10, 4)


@pytest.fixture(scope="module")
def renotation():
    return chips()


def test_table_is_the_mean_of_the_renotation_chips(renotation):
    np.testing.assert_allclose(_HUES, table(*renotation), rtol=0, atol=0.0501)


def test_chips_are_the_published_ones():
    """Newhall et al. (1943), table of the renotation: 5R 5/10 and 5PB 4/10 as x, y, Y."""
    from colour import MUNSELL_COLOURS

    published = {("5R", 5, 10): (0.4747, 0.3227, 19.77), ("5PB", 4, 10): (0.1925, 0.1843, 12.00)}
    carried = {key: xyy for key, xyy in MUNSELL_COLOURS["Munsell Colours Real"] if key in published}
    assert carried.keys() == published.keys()
    for key, xyy in published.items():
        np.testing.assert_allclose(carried[key], xyy, rtol=0, atol=0.006)


def test_hues_rise_all_round():
    degrees = np.append(_HUES.ravel(), _HUES[0, 0] + 360)
    assert np.diff(degrees).min() > 4


def test_chips_are_named_by_their_family(renotation):
    """Of real chips of chroma 4 and above off the border between families (steps 2.5 to 7.5),
    98.4 % get their own family; those of step 10 lie on a border and are split by the bend."""
    numbers, chroma, hues = renotation
    coloured = chroma >= 4
    named = np.array([FAMILIES.index(family(h)) for h in hues])
    right = named == (np.ceil(numbers / 10) - 1) % 10
    inner = coloured & (numbers % 10 != 0)
    assert inner.sum() == 1771
    assert right[inner].mean() == pytest.approx(0.984, abs=0.002)
    neighbour = named == numbers // 10 % 10
    border = coloured & (numbers % 10 == 0)
    assert (right | neighbour)[border].all()


def test_spread_is_what_the_documentation_says(renotation):
    numbers, chroma, hues = renotation
    middle = {name: hue_degrees(name) for name in FAMILIES}
    spread = {}
    for i, name in enumerate(FAMILIES):
        chosen = hues[(numbers == 10 * i + 5) & (chroma >= 4)]
        spread[name] = (chosen - middle[name] + 180) % 360 - 180
    deviation = {name: values.std() for name, values in spread.items()}
    assert all(2 < deviation[name] < 4 for name in ("YR", "Y", "GY", "G", "BG", "B", "P"))
    assert deviation["R"] == pytest.approx(6.3, abs=0.1)
    assert deviation["RP"] == pytest.approx(5.6, abs=0.1)
    assert deviation["PB"] == pytest.approx(7.8, abs=0.1)
    assert np.abs(spread["PB"]).max() == pytest.approx(18.2, abs=0.2)


@pytest.mark.parametrize("name", FAMILIES)
def test_names_and_families_agree(name):
    assert hue_degrees(name) == hue_degrees("5" + name)
    for step in ("0.1", "2.5", "5", "7.5", "9.9"):
        assert family(hue_degrees(step + name)) == name
    following = FAMILIES[(FAMILIES.index(name) + 1) % 10]
    assert hue_degrees("10" + name) == pytest.approx(hue_degrees("0" + following))


def test_steps_are_interpolated():
    low, high = hue_degrees("5PB"), hue_degrees("7.5PB")
    assert hue_degrees("6PB") == pytest.approx(low + 0.4 * (high - low))


def test_hue_of_any_turn_has_a_family():
    assert family(-340) == family(20) == family(380) == "R"


@pytest.mark.parametrize("name", ["", "5", "11R", "-1R", "5X", "5 PB", "pb", "5PBX"])
def test_other_names_are_refused(name):
    with pytest.raises(ValueError, match="allowed: R, YR"):
        hue_degrees(name)


def test_the_last_hue_before_the_first_family_has_one():
    """By rounding it lies a whole turn on."""
    assert family(np.nextafter(hue_degrees("0R"), 0)) in ("RP", "R")


if __name__ == "__main__":
    for row in table(*chips()):
        print("        [" + ", ".join(f"{value:.1f}" for value in row) + "],")
