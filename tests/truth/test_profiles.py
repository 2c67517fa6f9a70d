"""Other readers of a finished file must see the colours that the engine meant."""

import pytest

from grading.engine.output import OUTPUT_SPACES
from grading.files.formats.registry import FORMATS
from truth.profiles import measure_profile

pytestmark = pytest.mark.truth


@pytest.mark.parametrize("space", OUTPUT_SPACES)
@pytest.mark.parametrize("file_format", FORMATS)
def test_file_is_read_alike_by_others(file_format, space):
    """The bound on Pillow is what 8 bits of L*a*b* leave: half a code in each axis."""
    profile = measure_profile(file_format, space)
    assert profile.littlecms < 0.1
    assert profile.parsed < 0.1
    assert profile.pillow < 0.8
