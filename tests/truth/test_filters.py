"""A shift in mired must do what conversion filters are known to do."""

import pytest

from truth.filters import FILTERS, measure_filter

pytestmark = pytest.mark.truth


@pytest.mark.parametrize("name", FILTERS)
def test_grey_moves_by_the_published_shift(name):
    shift = measure_filter(name)
    assert shift.published == pytest.approx(shift.exact, abs=0.5)
    assert shift.moved == pytest.approx(shift.published, abs=0.1)
