"""Dust is found in simulated frames whose spots are known, and birds and lamps are not."""

import numpy as np
import pytest

from dusty_frames import COLUMNS, DUST, ROWS, sky_with
from grading.inspect.dust import Search, darker


def searched(frames):
    search = Search()
    for light in frames:
        search.add(light)
    return search.dust()


def matched(found, dust):
    """How many spots are found within their radius, and how many are found that are none."""
    near = [
        [np.hypot(f.x * COLUMNS - x, f.y * ROWS - y) < max(radius, 2) for x, y, radius in dust]
        for f in found
    ]
    near = np.reshape(near, (len(found), len(dust)))
    return int(near.any(axis=0).sum()), int((~near.any(axis=1)).sum())


@pytest.mark.parametrize("begin", [0, 100, 200, 300])
def test_all_of_the_dust_and_nothing_else_is_found(begin):
    stops = (16, 16, 11, 16, 11, 16, 11, 16)
    found = searched(sky_with(begin + i, stop=stop) for i, stop in enumerate(stops))
    assert matched(found, DUST) == (len(DUST), 0)
    for spot in found:
        true = min(DUST, key=lambda d: np.hypot(spot.x * COLUMNS - d[0], spot.y * ROWS - d[1]))
        assert 0.9 * true[2] < spot.radius * COLUMNS < 3.5 * true[2] + 3
        assert spot.frames >= 3 and 0.01 < spot.depth < 0.3


@pytest.mark.parametrize("begin", range(0, 200, 20))
def test_without_dust_nothing_is_found(begin):
    assert searched(sky_with(1000 + begin + i, dust=()) for i in range(10)) == []


def test_lamps_at_one_place_are_no_dust():
    frames = (sky_with(400 + i, dust=(), fixed=[(200, 100, 4.0), (400, 50, 8.0)]) for i in range(8))
    assert searched(frames) == []


def test_a_bird_in_one_scene_shot_many_times_is_no_dust():
    search = Search()
    counted = [search.add(sky_with(7, dust=())) for _ in range(8)]
    assert counted == [True] + 7 * [False] and search.scenes == 1
    assert search.dust() == []


def test_too_few_frames_show_nothing():
    assert searched(sky_with(50 + i) for i in range(2)) == []
    assert Search().dust() == []


def test_a_spot_in_texture_does_not_count_and_is_no_reason_against_it():
    frames = [sky_with(500 + i) for i in range(4)]
    rough = []
    for i in range(6):
        light = sky_with(600 + i)
        light[:, :260] *= np.exp(np.random.default_rng(i).normal(0, 0.5, (260, COLUMNS)))
        rough.append(light.astype(np.float32))
    assert matched(searched(frames + rough), DUST)[0] >= 3


def test_noise_alone_is_seldom_clear():
    rng = np.random.default_rng(3)
    light = np.float32(0.2 + rng.normal(0, 0.01, (3, 300, 400)))
    found = darker(light)
    assert found.smooth.mean() > 0.9 and (found.depth > 0).mean() < 0.01
