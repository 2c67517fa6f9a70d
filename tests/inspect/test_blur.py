from functools import lru_cache

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter
from scipy.special import j1

from grading.inspect import blurs
from grading.inspect.blur import find_blur, is_convincing
from grading.inspect.measure import SITES, measure
from grading.inspect.windows import windows
from inspect_frames import blurred, circle, noise_at, path, shot, town
from truth.textures import HELD_BACK, TUNED


def found(light, seed=1, iso=200):
    return measure(shot(light, seed, iso)).blur


@lru_cache(1)
def texture(name, size=480, seed=3):
    """The last one is kept: tests of one scene follow each other."""
    scenes = TUNED | HELD_BACK | {"town": lambda size, rng: town(5)}
    light = scenes[name](size, np.random.default_rng(seed))
    light.flags.writeable = False
    return light


@pytest.mark.parametrize("iso", [100, 1600])
@pytest.mark.parametrize("length, angle", [(9, 160), (13, 35), (19, 95), (26, 5), (20, 120)])
@pytest.mark.parametrize("scene", ["town", "foliage 4-20 px", "gravel"])
def test_a_shake_is_found_with_its_angle_and_length(scene, length, angle, iso):
    shake = found(blurred(texture(scene), path(length, angle)), iso=iso)
    assert shake.kind == "moved"
    assert abs((shake.angle - angle + 90) % 180 - 90) < 5
    assert shake.size == pytest.approx(length, rel=0.15)


def test_a_bent_path_is_a_shake_too():
    shake = found(blurred(town(6), path(16, 70, bend=0.6)))
    assert shake.kind == "moved"
    assert abs(shake.angle - 70) < 5
    assert shake.size == pytest.approx(16, rel=0.15)


def test_a_long_shake_is_found_at_smaller_size():
    light = gaussian_filter(np.kron(texture("foliage 4-20 px"), np.ones((2, 2))), 0.7)
    shake = found(blurred(light, path(58, 30)))
    assert abs(shake.angle - 30) < 5
    assert shake.size == pytest.approx(58, rel=0.15)


@pytest.mark.parametrize("radius", [4.5, 8])
def test_a_circle_of_confusion_is_told_from_a_shake(radius):
    unfocused = found(blurred(texture("foliage 4-20 px"), circle(radius)))
    assert unfocused.kind == "unfocused"
    assert unfocused.size == pytest.approx(radius, rel=0.15)


@pytest.mark.parametrize("iso", [100, 3200])
@pytest.mark.parametrize("name", [*TUNED, *HELD_BACK])
def test_nothing_blurred_a_sharp_texture(name, iso):
    assert found(texture(name), iso=iso) is None


@pytest.mark.parametrize("seed", range(20, 30))
def test_nothing_blurred_a_sharp_town(seed):
    assert found(town(seed), seed, iso=int(100 * 2 ** (seed % 6))) is None


def test_a_boat_that_moves_does_not_shake_the_frame():
    light = town(8)
    part = np.s_[150:400, 100:500]
    light[part] = blurred(light, path(16, 0))[part]
    assert found(light) is None


def test_noise_alone_has_no_blur():
    frame = shot(np.ones((400, 600)), 1)
    assert measure(frame).blur is None


def test_windows_of_pure_noise_explain_nothing():
    rng = np.random.default_rng(1)
    noise = noise_at(800).averaged(SITES)
    light = 0.2 + rng.normal(0, noise.variance(0.2) ** 0.5, (300, 400))
    assert not is_convincing(find_blur(windows(light.astype(np.float32), 2, noise)))


def test_a_straight_path_is_a_bent_one_without_bend():
    straight, bent = blurs._moved(30.0, 9.0, 0.0), blurs._moved(30.0, 9.0, 1e-9)
    np.testing.assert_allclose(bent, straight, atol=2e-3)


def test_the_circle_of_confusion_has_the_power_of_its_bessel_function():
    """(2 J1(z) / z)², by scipy's J1."""
    _, fx, fy = blurs.frequencies()
    z = 2 * np.pi * 3.0 * np.hypot(fx, fy)
    np.testing.assert_allclose(blurs._unfocused(3.0), (2 * j1(z) / z) ** 2, atol=2e-3)
