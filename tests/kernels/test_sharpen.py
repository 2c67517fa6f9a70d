"""A blur taken back: against a plain twin, and what it may not do."""

import numpy as np
import pytest

from grading.kernels.sharpen import ABOVE, GIVE, LEAST, MOST, REACH, blur_taps, sharpen
from kernels.guards import ODD_SHAPES, guarded

WEIGHTS = np.float32([0.2627, 0.6780, 0.0593])
NOISE = np.float32([2e-6, 3e-4, 1e-5])
BOUNDLESS = np.float32(np.inf)


def light(rows, columns, seed=0):
    """Patches from black to beyond white, with noise, some of it below 0."""
    rng = np.random.default_rng(seed)
    levels = np.array([[1.5, 1.2, 0.4], [0.0, 0.001, 0.002], [0.3, 0.1, 0.05], [0.02, 0.03, 0.06]])
    patch = (np.arange(rows)[:, None] // 5 + np.arange(columns) // 4) % 4
    shot = levels[patch].transpose(2, 0, 1)
    return np.float32(shot + rng.normal(size=shot.shape) * np.sqrt(3e-4 * shot + 2e-6))


def moved(plane, down, over):
    rows, columns = plane.shape
    y = np.clip(np.arange(rows) + down, 0, rows - 1)
    x = np.clip(np.arange(columns) + over, 0, columns - 1)
    return plane[y[:, None], x]


def blurred(plane, taps):
    for axis in ((1, 0), (0, 1)):
        plane = sum(
            taps[abs(k)].astype(float) * moved(plane, k * axis[0], k * axis[1])
            for k in range(-2, 3)
        )
    return plane


def twin(rgb, taps, amount=1.0, noise=NOISE, white=np.inf):
    y = np.tensordot(WEIGHTS.astype(float), rgb, 1)
    wide = np.pad(y, REACH, mode="edge")
    rest = wide - blurred(wide, taps)
    inside = np.s_[REACH:-REACH, REACH:-REACH]
    more = (2 * rest - blurred(rest, taps))[inside]
    nine = [moved(y, v, u) for v in (-1, 0, 1) for u in (-1, 0, 1)]
    least, most = np.min(nine, axis=0), np.max(nine, axis=0)
    seen = np.maximum(y, LEAST)
    power = np.square((most - least) / 2)
    limit = ABOVE * (noise[0] + noise[1] * seen + noise[2] * seen**2).astype(float)
    wanted = y + amount * power**2 / (power**2 + limit**2 + 1e-30) * more
    under = np.clip(GIVE * least, 0, GIVE * (most - least))
    factor = np.clip(wanted, least - under, most + GIVE * (most - least)) / seen
    room = np.maximum(white / np.maximum(rgb.max(0), LEAST), 1)
    factor = np.where(y > LEAST, np.minimum(np.clip(factor, 1 / MOST, MOST), room), 1)
    return factor * rgb


def sharpened(rgb, amount=1.0, deviation=0.65, noise=NOISE, white=BOUNDLESS):
    return sharpen(rgb, WEIGHTS, blur_taps(deviation), np.float32(amount), noise, white)


def grey(plane):
    return np.repeat(np.float32(plane)[None], 3, axis=0)


@pytest.mark.parametrize("deviation", [0.3, 0.65, 1.0])
@pytest.mark.parametrize("white", [1.0, np.inf])
def test_agrees_with_its_twin(deviation, white):
    rgb = light(45, 61)
    found = sharpened(rgb, 0.8, deviation, white=np.float32(white))
    exact = twin(rgb, blur_taps(deviation), 0.8, white=white)
    np.testing.assert_allclose(found, exact, atol=1e-5)


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_odd_shapes_is_read(shape):
    rgb = light(*shape)
    found, kept = guarded(sharpened, rgb)
    np.testing.assert_allclose(found, twin(rgb, blur_taps(0.65)), atol=1e-5)
    np.testing.assert_array_equal(kept, rgb)


def test_a_part_within_its_reach_has_the_same_bits():
    rgb = light(40, 50)
    part = np.s_[:, 11:30, 7:41]
    found = sharpened(np.ascontiguousarray(rgb[part]))
    inside = np.s_[:, REACH:-REACH, REACH:-REACH]
    np.testing.assert_array_equal(found[inside], sharpened(rgb)[part][inside])


def test_noise_is_left_alone_and_detail_is_not():
    """White noise as the model says, and stripes of four pixels ten times as high."""
    rng = np.random.default_rng(1)
    deviation = np.sqrt(NOISE @ [1, 0.2, 0.04])
    noise = rng.normal(0, deviation, (200, 300))
    raised = sharpened(grey(0.2 + noise))[1] - 0.2
    assert raised.std() < 1.2 * noise.std()
    stripes = 10 * deviation * np.sign(np.sin(np.pi / 2 * (np.arange(300) + 0.5)))
    blurred_stripes = blurred(np.broadcast_to(stripes, (200, 300)), blur_taps(0.65))
    found = sharpened(grey(0.2 + blurred_stripes))[1] - 0.2
    assert found.std() > 1.15 * blurred_stripes.std()


def test_no_rim_beyond_a_tenth_of_an_edge_and_no_black_one():
    step = np.where(np.arange(64) < 32, 0.004, 0.9)
    soft = blurred(np.broadcast_to(step, (20, 64)), blur_taps(0.8))
    found = sharpened(grey(soft), 1.0, 1.0, noise=np.zeros(3, np.float32))[1]
    assert found.max() < 0.9 + 0.1 * 0.9 + 1e-6
    assert found.min() > 0.9 * 0.004 - 1e-6
    assert found.max() > 0.91  # it is sharpened at all


def test_chromaticity_stays_and_white_is_not_passed():
    rgb = np.abs(light(40, 50)) + np.float32(0.01)
    found = sharpened(rgb)
    np.testing.assert_allclose(found / found.sum(0), rgb / rgb.sum(0), atol=1e-6)
    below = np.minimum(rgb, 0.95)
    assert sharpened(below).max() > 1
    assert sharpened(below, white=np.float32(1)).max() <= 1 + 1e-6
    above = sharpened(rgb, white=np.float32(1))
    assert (above.max(0) <= np.maximum(rgb.max(0), 1) + 1e-6).all()
