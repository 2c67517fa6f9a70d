"""Noise read from a frame against the noise put into it."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from grading.files.originals import open_frame
from grading.inspect.noise import BLOCK, _pairs, estimate_noise

DEMO = Path(__file__).parents[2] / "demo_images"

BLACK, WHITE = 512, 15871
LEVELS = ([BLACK] * 4, [WHITE] * 4)


def frame(gain, offset, phase=(0, 0), texture=True, shape=(800, 1200), seed=0):
    """Poisson-Gaussian counts of a scene that is half smooth, half texture."""
    y, x = np.indices(shape)
    scene = 0.004 + 0.6 * (x / shape[1]) ** 2 + 0.1 * y / shape[0]
    if texture:
        rough = (y > 0.4 * shape[0]) & (y < 0.9 * shape[0])
        scene = scene * np.where(rough, 1 + 0.3 * np.sin(x * 0.9) * np.sin(y * 0.8), 1)
    red = ((y + phase[0]) % 2 == 0) & ((x + phase[1]) % 2 == 0)
    scene = np.where(red, 0.5 * scene, scene)
    rng = np.random.default_rng(seed)
    noisy = rng.poisson(scene / gain) * gain + rng.normal(0, np.sqrt(offset), shape)
    return np.clip(np.rint(noisy * (WHITE - BLACK) + BLACK), 0, WHITE).astype(np.uint16)


@pytest.mark.parametrize(
    ("gain", "offset"), [(2e-5, 1e-6), (1e-4, 1e-6), (1e-3, 2e-5), (3e-3, 4e-4)]
)
@pytest.mark.parametrize("phase", [(0, 0), (1, 0)])
def test_gain_and_read_noise_of_a_known_sensor(gain, offset, phase):
    """Model of Foi, Trimeche, Katkovnik and Egiazarian, IEEE TIP 17, 2008."""
    found_gain, found_offset = estimate_noise(frame(gain, offset, phase), phase, *LEVELS)
    assert found_gain == pytest.approx(gain, rel=0.1)
    assert np.sqrt(found_offset) == pytest.approx(np.sqrt(offset), rel=0.15)


def test_hot_sites_do_not_matter():
    mosaic = frame(1e-4, 1e-6)
    clean = estimate_noise(mosaic, (0, 0), *LEVELS)
    rng = np.random.default_rng(1)
    mosaic[rng.integers(0, 800, 300), rng.integers(0, 1200, 300)] = 9000
    np.testing.assert_allclose(estimate_noise(mosaic, (0, 0), *LEVELS), clean, rtol=0.1)


def test_a_burnt_out_frame_tells_nothing():
    burnt = np.full((200, 200), WHITE, np.uint16)
    assert estimate_noise(burnt, (0, 0), *LEVELS) == (0.0, 0.0)


def test_a_flat_frame_without_noise_has_none():
    flat = np.full((200, 200), 3000, np.uint16)
    assert estimate_noise(flat, (0, 0), *LEVELS) == (0.0, 0.0)


def test_not_a_digit_depends_on_the_processor():
    """OpenBLAS as for a processor of 2004; other linear algebra libraries leave this alone."""
    path = str(DEMO / "harbour_07.dng")
    say = f"print(open_frame({path!r}).facts.noise)"
    script = f"from grading.files.originals import open_frame; {say}"
    old = {"OPENBLAS_CORETYPE": "Prescott", "PYTHONPATH": os.pathsep.join(sys.path)}
    run = subprocess.run(
        [sys.executable, "-c", script], env=os.environ | old, capture_output=True, text=True
    )
    assert run.stdout.strip() == str(open_frame(path).facts.noise), run.stderr


def test_the_variance_of_a_known_residual():
    """Immerkaer's mask, CVIU 64, 1996: the squares of its weights sum to 36."""
    plane = np.full((BLOCK, BLOCK), 1000, np.uint16)
    plane[8, 8] += 300
    _, variance = _pairs(plane, 0, 10_000)
    assert variance == pytest.approx(0.03**2 / (BLOCK - 2) ** 2, rel=1e-6)


@pytest.mark.parametrize(("count", "used"), [(0, 0), (1, 1), (9099, 1), (9100, 0), (10_000, 0)])
def test_blocks_that_touch_zero_or_come_near_white_do_not_count(count, used):
    """Cut off there, noise looks smaller than it is; 0.9 is common practice, no source."""
    plane = np.full((BLOCK, BLOCK), 5000, np.uint16)
    plane[8, 8] = count
    assert _pairs(plane, 100, 10_100)[0].size == used
    both = np.vstack([plane, np.full_like(plane, 5000)])
    assert _pairs(both, 100, 10_100)[0].size == used + 1


@pytest.mark.parametrize("end", ["dark", "bright"])
def test_noise_is_not_underestimated_where_half_the_frame_is_cut_off(end):
    gain, offset, shape = 1e-3, 4e-4, (800, 1200)
    whole = frame(gain, offset, texture=False)
    rng, cut = np.random.default_rng(2), whole.astype(float)
    level = {"dark": -0.05, "bright": 0.99}[end]
    half = level + rng.normal(0, np.sqrt(offset), (400, 1200))
    cut[:400] = np.rint(half * (WHITE - BLACK) + BLACK)
    low = BLACK if end == "dark" else 0
    cut = np.clip(cut - low, 0, WHITE - low).astype(np.uint16)
    assert cut.shape == shape
    levels = [BLACK - low] * 4, [WHITE - low] * 4
    found = estimate_noise(cut, (0, 0), *levels)
    alone = estimate_noise(np.clip(whole[400:].astype(int) - low, 0, None).astype(np.uint16),
                           (0, 0), *levels)  # fmt: skip
    assert found == pytest.approx(alone, rel=0.05)
