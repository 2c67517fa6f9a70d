"""Other readers of a finished file must see the colours that the engine meant."""

import pytest

from grading.engine.output import RGB_SPACES
from truth.profiles import FILES, measure_profile

pytestmark = pytest.mark.truth


@pytest.mark.parametrize("space", RGB_SPACES)
@pytest.mark.parametrize("file_format", FILES)
def test_file_is_read_alike_by_others(file_format, space):
    """The bound on Pillow is what 8 bits of L*a*b* leave: half a code in each axis, and near grey
    that of a* counts up to 1.5 times (CIEDE2000)."""
    profile = measure_profile(file_format, space)
    assert profile.littlecms < 0.1
    assert profile.parsed < 0.1
    assert profile.pillow < 0.95
