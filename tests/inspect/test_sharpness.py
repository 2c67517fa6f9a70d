import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from grading.inspect.measure import measure
from grading.inspect.sharpness import softness
from grading.inspect.windows import windows
from inspect_frames import noise_at, shot, town
from truth.textures import TUNED


def softness_of(light, iso=100, seed=1):
    return measure(shot(light, seed, iso)).softness


@pytest.mark.parametrize("iso", [100, 1600, 6400])
def test_softness_rises_with_blur_whatever_the_noise(iso):
    light = TUNED["foliage 1.5-8 px"](480, np.random.default_rng(2))
    found = [softness_of(gaussian_filter(light, s), iso) for s in (0.4, 1.5, 2.5, 4)]
    assert all(np.diff(found) > 0.3)


def test_softness_does_not_depend_on_exposure():
    light = gaussian_filter(town(3), 2)
    found = [measure(shot(light, 1, 100, stops)).softness for stops in (-1.5, 0, 1)]
    assert max(found) - min(found) < 0.15


def test_of_a_scene_whose_power_falls_with_the_square_it_is_the_deviation_of_the_blur():
    rng = np.random.default_rng(4)
    fy, fx = np.fft.fftfreq(512)[:, None], np.fft.rfftfreq(512)[None]
    f = np.maximum(np.hypot(fx, fy), 1 / 512)
    shape = np.exp(-((2 * np.pi * 1.3 * f) ** 2) / 2) / f
    field = np.fft.irfft2(np.fft.rfft2(rng.normal(size=(512, 512))) * shape)
    light = (0.2 * (1 + 0.1 * field / field.std())).astype(np.float32)
    noiseless = noise_at(1)._replace(gain=0.0, offset=1e-12)
    assert softness(windows(light, 1, noiseless)) == pytest.approx(1.3, rel=0.15)


def test_along_a_direction_only_what_is_soft_in_it_counts():
    light = gaussian_filter(TUNED["foliage 1.5-8 px"](480, np.random.default_rng(5)), (0.3, 5))
    shown = windows(light[::2, ::2].astype(np.float32), 2, noise_at(1))
    assert softness(shown, 0) > softness(shown, 90) + 2


def test_the_sharpest_place_is_where_it_is_sharp():
    light = TUNED["foliage 1.5-8 px"](480, np.random.default_rng(6))
    soft = gaussian_filter(light, 3)
    soft[300:, :180] = light[300:, :180]
    x, y = measure(shot(soft, 1)).sharpest
    assert x < 0.4 and y > 0.6


def test_a_frame_without_detail_has_no_sharpness():
    found = measure(shot(np.ones((300, 400)), 1))
    assert found.softness is None and found.sharpest is None


def test_a_tiny_frame_is_measured_without_sharpness():
    assert measure(shot(np.ones((60, 80)), 1)).softness is None
