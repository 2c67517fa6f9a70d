"""The noise model of frames that nobody chose, against the noise put into them.

Model: Foi, Trimeche, Katkovnik and Egiazarian, IEEE TIP 17, 2008. `tests/benchmarks/noise_model.py`
prints more scenes, speeds and sizes. The limits are ours: a factor of 1.4 in variance is 0.25 stop.
"""

from functools import cache

import numpy as np
import pytest

from grading.develop.noise import measure_noise
from grading.develop.noise_source import settle
from grading.frame import Noise
from truth.textures import CAMERAS, HELD_BACK, TUNED, site_light

pytestmark = pytest.mark.truth
LEAST, MOST, LEVEL = 0.7, 1.4, 0.18
SIZE = 1024
SCENES = {**TUNED, **HELD_BACK}
WHITE_TEXTURE = "sand"
"""No single frame can tell it from noise."""
QUICK = ("foliage 1.5-8 px", "grass", "brick", "skyline", "water", "gravel", "fur", "cloth", "snow")


@cache
def scene(name):
    return SCENES[name](SIZE, np.random.default_rng(7))


def ratio_of(noise, camera, iso):
    return noise.variance(LEVEL) / Noise(*camera.noise(iso)).variance(LEVEL)


def measured(name, camera, iso, sky, seed=21):
    counts = camera.record(site_light(scene(name), sky), iso, seed)
    return measure_noise(counts, (0, 0), [camera.black] * 4, camera.white)


@pytest.mark.parametrize("iso", [100, 1600])
@pytest.mark.parametrize("camera", CAMERAS, ids=lambda camera: camera.name)
@pytest.mark.parametrize("name", QUICK)
def test_texture_all_over_is_known_or_bound(name, camera, iso):
    """What is sure is right; what is not is at most a little above the truth."""
    found = measured(name, camera, iso, 0.0)
    noise, source = settle(found, iso)
    assert ratio_of(noise, camera, iso) <= MOST
    if source.sure:
        assert ratio_of(noise, camera, iso) >= LEAST


@pytest.mark.parametrize(
    ("name", "iso"),
    [*((name, iso) for name in ("grass", "brick", "water", "gravel") for iso in (100, 3200)),
     (WHITE_TEXTURE, 100)],
)  # fmt: skip
@pytest.mark.parametrize("camera", CAMERAS, ids=lambda camera: camera.name)
def test_a_tenth_of_sky_tells_it(name, camera, iso):
    found = measured(name, camera, iso, 0.1)
    assert found.sure
    assert LEAST <= ratio_of(found.noise, camera, iso) <= MOST


@pytest.mark.parametrize("camera", CAMERAS, ids=lambda camera: camera.name)
@pytest.mark.parametrize("iso", [100, 800, 6400])
def test_without_texture_it_is_exact(camera, iso):
    found = measured("no texture", camera, iso, 0.0)
    assert found.sure
    for level in (0.02, LEVEL, 0.5):
        true = Noise(*camera.noise(iso)).variance(level)
        assert found.noise.variance(level) == pytest.approx(true, rel=0.1)


@pytest.mark.parametrize("camera", CAMERAS, ids=lambda camera: camera.name)
def test_white_texture_far_above_noise_is_not_sure(camera):
    """It rises with the square of the signal, or no sensor holds so few electrons."""
    assert not settle(measured(WHITE_TEXTURE, camera, 100, 0.0), 100)[1].sure
