"""Noise read from a frame against the noise put into it."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from grading.develop.noise import BLOCK, _pairs, estimate_noise
from grading.files.originals import open_frame

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


@pytest.mark.parametrize("height", [20, 100])
def test_of_the_residual_36_parts_are_one_of_the_variance(height):
    """The operator (1, -2, 1) along both axes has squares that sum to 36 (Immerkaer, CVIU 64,
    1996); of sites in a chequer of +- h its square is (16 h)^2, and no slope or level changes that.
    """
    y, x = np.indices((800, 1200)) // 2
    mosaic = (2000 + 3 * x + 2 * y + height * (-1) ** (x + y)).astype(np.uint16)
    gain, offset = estimate_noise(mosaic, (0, 0), *LEVELS)
    exact = (16 * height / (WHITE - BLACK)) ** 2 / 36
    assert gain == pytest.approx(0, abs=1e-3 * exact)
    assert offset == pytest.approx(exact, rel=1e-3)


def cut_off(gain, offset, levels, low, high, seed=4):
    """Counts of flat patches of these levels, cut off at the ends of what a file can hold."""
    scene = np.repeat(levels, 40)[:, None] * np.ones(1200)
    rng = np.random.default_rng(seed)
    noisy = rng.poisson(scene / gain) * gain + rng.normal(0, np.sqrt(offset), scene.shape)
    return np.clip(np.rint(noisy * (high - low) + low), 0, high).astype(np.uint16)


@pytest.mark.parametrize("low", [0, 16])
def test_night_that_is_cut_off_at_zero_does_not_count(low):
    """Half of the noise of black is lost where black is at 0 counts; it would halve the offset."""
    gain, offset, levels = 2e-4, (20 / WHITE) ** 2, np.repeat([0, 0.02, 0.1, 0.3], (14, 2, 2, 2))
    mosaic = cut_off(gain, offset, levels, low, WHITE)
    found_gain, found_offset = estimate_noise(mosaic, (0, 0), [low] * 4, [WHITE] * 4)
    assert found_offset == pytest.approx(offset, rel=0.15)
    assert found_gain == pytest.approx(gain, rel=0.1)


def test_sky_that_is_cut_off_at_white_does_not_count():
    gain, offset, levels = 2e-3, 1e-5, np.repeat([0.98, 0.02, 0.1, 0.4], (14, 2, 2, 2))
    mosaic = cut_off(gain, offset, levels, BLACK, WHITE)
    found_gain, found_offset = estimate_noise(mosaic, (0, 0), *LEVELS)
    assert found_gain == pytest.approx(gain, rel=0.1)
    assert found_offset == pytest.approx(offset, abs=2e-5)


def test_each_site_has_its_own_levels():
    gain, offset = 1e-4, 1e-6
    black, white = np.array([400, 1200, 1200, 1300]), np.array([12000, 14000, 15871, 16383])
    signal = (frame(gain, offset).astype(float) - BLACK) / (WHITE - BLACK)
    site = np.tile([[0, 1], [2, 3]], (400, 600))
    mosaic = np.rint(signal * (white - black)[site] + black[site]).astype(np.uint16)
    found_gain, found_offset = estimate_noise(mosaic, (0, 0), black, white)
    assert found_gain == pytest.approx(gain, rel=0.1)
    assert np.sqrt(found_offset) == pytest.approx(np.sqrt(offset), rel=0.15)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("gain", "offset"), [(1e-3, 1e-9), (1e-9, 1e-5)])
def test_no_noise_is_less_than_none(gain, offset, seed):
    """Where one of the two is next to nothing, the fit alone would often put it below 0."""
    found = estimate_noise(frame(gain, offset, shape=(400, 600), seed=seed), (0, 0), *LEVELS)
    assert min(found) >= 0
    level = 0.2
    assert found[0] * level + found[1] == pytest.approx(gain * level + offset, rel=0.15)


@pytest.mark.parametrize(("side", "measured"), [(96, False), (128, True)])
def test_a_small_frame_reports_nothing(side, measured):
    """36 blocks of 16 sites are too few for the 24 bins of two that the fit begins with."""
    found = estimate_noise(frame(1e-3, 2e-5, texture=False, shape=(side, side)), (0, 0), *LEVELS)
    assert (found != (0.0, 0.0)) == measured


@pytest.mark.filterwarnings("error")
def test_texture_all_over_gives_finite_figures():
    """Each block of another strength, so that hardly two of them agree."""
    rng = np.random.default_rng(6)
    strength = np.exp2(rng.uniform(1, 11, (4, 4)))
    noise = rng.normal(0, np.kron(strength, np.ones((32, 32))))
    mosaic = np.clip(6000 + noise, 1, 12000).astype(np.uint16)
    found = estimate_noise(mosaic, (0, 0), *LEVELS)
    assert np.isfinite(found).all() and min(found) >= 0


def test_hot_sites_do_not_matter():
    mosaic = frame(1e-4, 1e-6)
    clean = estimate_noise(mosaic, (0, 0), *LEVELS)
    rng = np.random.default_rng(1)
    mosaic[rng.integers(0, 800, 300), rng.integers(0, 1200, 300)] = 9000
    np.testing.assert_allclose(estimate_noise(mosaic, (0, 0), *LEVELS), clean, rtol=0.1)


def test_a_burnt_out_frame_reports_nothing():
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
