"""A simulated evening comes out as one, judged by its truth; the scene is no other test's."""

import pytest

from evening.judged import judged, simulated


def test_a_short_evening(tmp_path):
    evening = simulated(tmp_path, seed=7, frames=14)
    found = judged(evening)
    assert found["levelled"].stops[0] < 0.02 and found["levelled"].stops[1] < 0.07
    assert found["straight"].stops[0] > 0.3
    assert found["levelled"].contrast > 0.95 * found["straight"].contrast


@pytest.mark.slow
@pytest.mark.parametrize("slip", [0.03, 0.15])
@pytest.mark.parametrize("seed", [3, 4])
def test_forty_frames(tmp_path, seed, slip):
    evening = simulated(tmp_path, seed=seed, slip=slip)
    found = judged(evening)
    assert found["levelled"].stops[0] < 0.020 and found["levelled"].stops[1] < 0.08
    assert found["levelled"].stops[0] < found["truth"].stops[0] + 0.004
    assert found["levelled"].colour[0] < 0.001 and found["levelled"].colour[1] < 0.005
    assert found["levelled"].contrast == pytest.approx(found["straight"].contrast, rel=0.05)
    rms, worst = evening.course()  # known no better than what a frame says of its own exposure
    assert rms < max(0.10, slip) and worst < max(0.25, 2.5 * slip)
    assert evening.white() < 1
    assert sum(bool(each.remarks) for each in evening.levels.values()) >= 2
