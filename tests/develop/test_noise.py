"""Noise read from a frame against the noise put into it."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import yaml

from grading.develop import noise as module
from grading.develop.noise import measure_noise
from grading.files.originals import open_frame
from grading.frame import Noise

DEMO = Path(__file__).parents[2] / "demo_images"

BLACK, WHITE = 512, 15871
LEVELS = ([BLACK] * 4, WHITE)


def frame(gain, offset, phase=(0, 0), texture=True, shape=(800, 1200), seed=0):
    """Poisson-Gaussian counts of a scene that is half smooth, half texture."""
    y, x = np.indices(shape)
    scene = 0.004 + 0.6 * (x / shape[1]) ** 2 + 0.1 * y / shape[0]
    if texture:
        rough = (y > 0.4 * shape[0]) & (y < 0.9 * shape[0])
        scene = scene * np.where(rough, 1 + 0.3 * np.sin(x * 0.9) * np.sin(y * 0.8), 1)
    red = ((y + phase[0]) % 2 == 0) & ((x + phase[1]) % 2 == 0)
    scene = np.where(red, 0.5 * scene, scene)
    return counts(scene, gain, offset, seed)


def counts(scene, gain, offset, seed=0, black=BLACK, white=WHITE):
    rng = np.random.default_rng(seed)
    noisy = rng.poisson(scene / gain) * gain + rng.normal(0, np.sqrt(offset), scene.shape)
    return np.clip(np.rint(noisy * (white - black) + black), 0, white).astype(np.uint16)


def matches(found, gain, offset):
    assert found.sure
    assert found.noise.gain == pytest.approx(gain, rel=0.1)
    assert found.noise.variance(0.02) == pytest.approx(gain * 0.02 + offset, rel=0.15)


@pytest.mark.parametrize(
    ("gain", "offset"), [(2e-5, 1e-7), (1e-4, 1e-6), (1e-3, 2e-5), (3e-3, 4e-5)]
)
@pytest.mark.parametrize("phase", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_gain_and_read_noise_of_a_known_sensor(gain, offset, phase):
    """Model of Foi, Trimeche, Katkovnik and Egiazarian, IEEE TIP 17, 2008."""
    matches(measure_noise(frame(gain, offset, phase), phase, *LEVELS), gain, offset)


def test_each_green_has_its_own_black():
    gain, offset = 1e-4, 1e-6
    signal = (frame(gain, offset).astype(float) - BLACK) / (WHITE - BLACK)
    black = np.array([400, 1200, 1100, 1300])
    site = np.tile([[0, 1], [2, 3]], (400, 600))
    mosaic = np.rint(signal * (14000 - 1200) + black[site]).astype(np.uint16)
    matches(measure_noise(mosaic, (0, 0), black, 14000), gain, offset)


def test_greens_that_differ_in_gain_are_no_noise():
    """By 2 %, which at a signal of 0.5 is four deviations."""
    gain, offset, shape = 2e-5, 1e-7, (800, 1200)
    y, x = np.indices(shape)
    scene = (0.05 + 0.5 * x / shape[1]) * np.where(y % 2, 1.02, 1)
    found = measure_noise(counts(scene, gain, offset), (0, 0), *LEVELS)
    assert found.noise.variance(0.2) == pytest.approx(gain * 0.2 + offset, rel=0.1)


def patchwork(gain, offset, levels, low, high, seed=4):
    """Counts of flat patches of these levels, cut off at the ends of what a file can hold."""
    scene = np.repeat(levels, 40)[:, None] * np.ones(1200)
    return counts(scene, gain, offset, seed, low, high)


@pytest.mark.parametrize("low", [0, 16])
def test_night_that_is_cut_off_at_zero_does_not_count(low):
    """Half of the noise of black is lost where black is at 0 counts; it would halve the offset."""
    gain, offset, levels = 2e-4, (5 / WHITE) ** 2, np.repeat([0, 0.02, 0.1, 0.3], (14, 2, 2, 2))
    mosaic = patchwork(gain, offset, levels, low, WHITE)
    found = measure_noise(mosaic, (0, 0), [low] * 4, WHITE).noise
    assert found.variance(0.02) == pytest.approx(gain * 0.02 + offset, rel=0.15)
    assert found.gain == pytest.approx(gain, rel=0.1)


def test_sky_that_is_cut_off_at_white_does_not_count():
    gain, offset, levels = 2e-3, 1e-5, np.repeat([0.98, 0.02, 0.1, 0.4], (14, 2, 2, 2))
    found = measure_noise(patchwork(gain, offset, levels, BLACK, WHITE), (0, 0), *LEVELS).noise
    assert found.gain == pytest.approx(gain, rel=0.1)
    assert found.offset == pytest.approx(offset, abs=1e-5)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("gain", "offset"), [(1e-3, 1e-9), (1e-9, 2e-7)])
def test_no_noise_is_less_than_none(gain, offset, seed):
    """Where one of the two is next to nothing, the fit alone would often put it below 0."""
    y, x = np.indices((400, 600))
    scene = 0.05 + 0.4 * x / 600
    rng = np.random.default_rng(seed)
    noisy = scene + rng.normal(size=scene.shape) * np.sqrt(gain * scene + offset)
    mosaic = np.rint(noisy * (WHITE - BLACK) + BLACK).astype(np.uint16)
    found = measure_noise(mosaic, (0, 0), *LEVELS).noise
    assert min(found) >= 0
    assert found.variance(0.2) == pytest.approx(gain * 0.2 + offset, rel=0.2)


@pytest.mark.parametrize(("side", "measured"), [(96, False), (240, True)])
def test_a_small_frame_reports_nothing(side, measured):
    """Of 24 bins of patches, 4 x 4 sites apart, those of fewer than 60 do not count."""
    mosaic = frame(1e-3, 2e-5, texture=False, shape=(side, side))
    assert (measure_noise(mosaic, (0, 0), *LEVELS) is not None) == measured


@pytest.mark.filterwarnings("error")
def test_texture_all_over_gives_finite_figures_and_is_not_sure():
    """Each block of another strength and as rough in the coarse as in the fine."""
    rng = np.random.default_rng(6)
    strength = np.kron(np.exp2(rng.uniform(6, 11, (8, 8))), np.ones((32, 32)))
    coarse = np.kron(rng.normal(0, 1, (64, 64)), np.ones((4, 4)))
    mosaic = np.clip(6000 + strength * coarse, 1, 12000).astype(np.uint16)
    found = measure_noise(mosaic, (0, 0), *LEVELS)
    assert np.isfinite(found.noise).all() and min(found.noise) >= 0
    assert not found.sure


def test_texture_that_is_white_is_told_by_its_rise_with_the_signal():
    """A share of the signal, so that the variance rises with its square."""
    y, x = np.indices((800, 1200))
    rng = np.random.default_rng(2)
    scene = (0.1 + 0.3 * x / 1200) * (1 + 0.06 * rng.normal(size=(800, 1200)))
    found = measure_noise(counts(scene, 2e-5, 1e-7), (0, 0), *LEVELS)
    assert found.noise.variance(0.2) > 5 * (2e-5 * 0.2 + 1e-7)
    assert not found.sure


@pytest.mark.parametrize("seed", range(3))
def test_a_flat_black_around_texture_does_not_tell_the_gain(seed):
    """Two thirds of the frame at one level near black; the rest is as rough in the coarse."""
    rng = np.random.default_rng(seed)
    scene = np.full((800, 1200), 0.0013)
    scene[:, 800:] = np.kron(np.exp2(rng.uniform(-6, -1, (400, 200))), np.ones((2, 2)))
    found = measure_noise(counts(scene, 2e-5, 3e-8, seed), (0, 0), *LEVELS)
    assert not found.sure
    assert found.level < 0.01
    assert found.noise.variance(0.0013) == pytest.approx(2e-5 * 0.0013 + 3e-8, rel=0.1)


def test_noise_that_the_camera_smoothed_is_not_sure():
    """Each count the mean of its own colour's nearest four: not white, and less than it was."""
    plain = frame(1e-3, 2e-6, texture=False).astype(float)
    smooth = plain.copy()
    smooth[2:-2, 2:-2] = (plain[:-4, 2:-2] + plain[4:, 2:-2] + plain[2:-2, :-4] + plain[2:-2, 4:]
                          + 4 * plain[2:-2, 2:-2]) / 8  # fmt: skip
    assert not measure_noise(np.rint(smooth).astype(np.uint16), (0, 0), *LEVELS).sure


def test_hot_sites_do_not_matter():
    mosaic = frame(1e-4, 1e-6)
    clean = measure_noise(mosaic, (0, 0), *LEVELS).noise
    rng = np.random.default_rng(1)
    mosaic[rng.integers(0, 800, 300), rng.integers(0, 1200, 300)] = 9000
    np.testing.assert_allclose(measure_noise(mosaic, (0, 0), *LEVELS).noise, clean, rtol=0.1)


@pytest.mark.parametrize("level", [WHITE, 3000, 0])
def test_a_burnt_out_frame_and_one_of_a_single_level_report_nothing(level):
    assert measure_noise(np.full((200, 200), level, np.uint16), (0, 0), *LEVELS) is None


def test_a_smooth_frame_without_noise_has_that_of_whole_counts_at_most():
    """Rounding to whole counts has a variance of 1/12 (Bennett, Bell System Tech. J. 27, 1948)."""
    y, x = np.indices((400, 600))
    mosaic = (2000 + 3.3 * x + 2.1 * y).astype(np.uint16)
    found = measure_noise(mosaic, (0, 0), *LEVELS).noise
    assert found.variance(0.2) <= 1.5 / 12 / (WHITE - BLACK) ** 2


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


@pytest.mark.parametrize("number", range(1, 9))
def test_the_demo_set(number):
    """Against the truth about the set."""
    truth = yaml.safe_load((DEMO / "harbour_truth.yaml").read_text())[number - 1]
    span = 16383 - 512
    true = Noise(truth["noise_alpha"] / span, (truth["read_noise"] ** 2 + 1 / 12) / span**2)
    facts = open_frame(DEMO / truth["file"]).facts
    assert facts.noise_source.sure
    for level, tolerance in ((0.02, 0.2), (0.18, 0.1)):
        assert facts.noise.variance(level) == pytest.approx(true.variance(level), rel=tolerance)


@pytest.mark.parametrize(("a", "b"), [(3.0, 0.5), (2.0, -1.0), (-1.0, 2.0), (-1.0, -1.0)])
def test_two_factors_that_are_not_negative(a, b):
    """Against a search of the quarter plane."""
    rng = np.random.default_rng(3)
    u, v = rng.uniform(0.1, 1, (2, 30))
    y = a * u + b * v
    found = module._two_not_negative(u, v, y)
    grid = np.mgrid[0:4:161j, 0:4:161j].reshape(2, -1)
    misses = ((grid.T @ np.stack([u, v]) - y) ** 2).sum(1)
    assert min(found) >= 0
    assert ((found[0] * u + found[1] * v - y) ** 2).sum() <= misses.min() + 1e-9


@pytest.mark.parametrize("end", ["dark", "bright"])
def test_noise_is_not_underestimated_where_half_the_frame_is_cut_off(end):
    gain, offset = 1e-3, 2e-5
    whole = frame(gain, offset, texture=False)
    level = {"dark": -0.05, "bright": 0.99}[end]
    half = level + np.random.default_rng(2).normal(0, np.sqrt(offset), (400, 1200))
    cut = whole.astype(float)
    cut[:400] = np.rint(half * (WHITE - BLACK) + BLACK)
    low = BLACK if end == "dark" else 0
    cut = np.clip(cut - low, 0, WHITE - low).astype(np.uint16)
    found = measure_noise(cut, (0, 0), [BLACK - low] * 4, WHITE - low).noise
    assert found.variance(0.2) == pytest.approx(gain * 0.2 + offset, rel=0.1)
