"""The published colours, as they are understood here."""

import subprocess
import sys

import numpy as np
import pytest

from grading.calibrate.chart import EDITIONS, GREYS, reference
from grading.colour.adaptation import cat16
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import D65, xy_to_xyz

D50 = xy_to_xyz((0.3457, 0.3585))


def test_lab_under_d50_is_that_which_the_maker_prints():
    """L*a*b* of 1, 2, 19 and 24 for charts since November 2014 (from memory)."""
    colours = reference()
    lab = xyz_to_lab(colours.xyz @ cat16(xy_to_xyz(D65), D50).T, D50)
    printed = {0: (37.54, 14.37, 14.92), 1: (64.66, 19.27, 17.50), 18: (95.19, -1.03, 2.93),
               23: (20.64, 0.07, -0.46)}  # fmt: skip
    for number, stated in printed.items():
        assert lab[number] == pytest.approx(stated, abs=0.02)


@pytest.mark.parametrize("edition", EDITIONS)
def test_greys_are_nearly_grey_and_fall_in_lightness(edition):
    lab = reference(edition).lab
    assert np.hypot(*lab[18:24, 1:].T).max() < 3.5
    assert (np.diff(lab[18:24, 0]) < -10).all()
    assert lab[GREYS].shape == (5, 3)


def test_editions_differ_a_little():
    errors = delta_e_2000(reference("since-2014").lab, reference("before-2014").lab)
    assert errors.mean() == pytest.approx(0.8, abs=0.1)
    assert errors.max() < 2.1


def test_names_are_plain():
    names = reference().names
    assert (names[0], names[18], names[23]) == ("dark skin", "white 9.5", "black 2")


def test_colour_science_waits_until_the_colours_are_asked_for():
    """With all of the package imported, reading the chart's colours is what imports it."""
    code = (
        "import sys, pkgutil, importlib, grading\n"
        "for module in pkgutil.walk_packages(grading.__path__, 'grading.'):\n"
        "    if not module.name.endswith('__main__'): importlib.import_module(module.name)\n"
        "assert 'colour' not in sys.modules\n"
        "from grading.calibrate.chart import reference\n"
        "reference()\n"
        "assert 'colour' in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")  # no word on what it has no use for
