"""The committed page must say what is measured."""

import re

import pytest

from truth.make_page import PAGE, page

pytestmark = pytest.mark.truth

NUMBER = re.compile(r"(?<![\w.])[+-]?\d+\.\d+")


def test_page_agrees_with_what_is_measured():
    """Words to the letter; numbers with decimals within 2 % or two units of the last digit,
    since optimisers and libraries may differ that much from machine to machine."""
    committed, found = PAGE.read_text(encoding="utf-8"), page()
    assert NUMBER.split(committed) == NUMBER.split(found)
    for old, new in zip(NUMBER.findall(committed), NUMBER.findall(found), strict=True):
        unit = 10.0 ** -len(old.partition(".")[2])
        assert float(new) == pytest.approx(float(old), rel=0.02, abs=2.01 * unit)
