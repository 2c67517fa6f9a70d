"""Luminance by limited cosine transforms, against a plain twin."""

import numpy as np
import pytest
from scipy.fft import dctn, idctn

from grading.kernels.luminance_noise import MOST, REACH, RUN, reduce_luminance_noise
from kernels.guards import ODD_SHAPES, guarded

WEIGHTS = np.float32([0.3, 0.6, 0.1])
PHOTON, READ, BIAS, AMOUNT = map(np.float32, (2e-3, 3e-5, 0.3, 0.8))
LIMITS = np.float32(2.9 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))
LIMITS[0, 0] = 0


def light(rows, columns, seed=0):
    """A ramp from black with an edge and stripes, with noise."""
    rng = np.random.default_rng(seed)
    x, y = np.arange(columns), np.arange(rows)[:, None]
    level = 0.2 * x / max(columns, 9) + 0.1 * (y > rows / 2) + 0.05 * (x % 6 < 3) * (y % 20 < 9)
    shot = level * np.array([1.2, 1.0, 0.7])[:, None, None]
    return np.float32(shot + rng.normal(size=shot.shape) * np.sqrt(PHOTON * shot + READ))


def shrunk(plane):
    padded = np.pad(plane, REACH, mode="symmetric")
    total, weights = np.zeros(padded.shape), np.zeros(padded.shape)
    for y in range(padded.shape[0] - REACH):
        blocks = np.lib.stride_tricks.sliding_window_view(padded[y : y + 8], 8, axis=1)
        waves = dctn(blocks.transpose(1, 0, 2), axes=(1, 2), norm="ortho")
        waves *= np.abs(waves) > LIMITS
        weight = 1 / np.maximum(np.count_nonzero(waves, axis=(1, 2)), 1)
        made = idctn(waves, axes=(1, 2), norm="ortho") * weight[:, None, None]
        for x in range(made.shape[0]):
            total[y : y + 8, x : x + 8] += made[x]
            weights[y : y + 8, x : x + 8] += weight[x]
    return (total / weights)[REACH:-REACH, REACH:-REACH]


def twin(rgb, amount=float(AMOUNT)):
    photon, read, bias = float(PHOTON), float(READ), float(BIAS)
    seen = np.tensordot(WEIGHTS.astype(float), rgb, 1)
    value = shrunk(2 * seen / (np.sqrt(photon * np.maximum(seen, 0) + read) + np.sqrt(read)))
    bent = np.maximum(value, 0) ** 2 / 4 + bias * np.clip(0.5 + value / 4, 0, 1)
    clean = np.sqrt(read) * value + photon * bent

    def root(light):
        return np.sqrt(np.maximum(photon * light + read, 0))

    share = (root(rgb) + root(clean) - root(seen)) / root(clean)
    return rgb + amount * np.clip(share, 0, float(MOST)) * (clean - seen)


def reduced(rgb, amount=AMOUNT):
    return reduce_luminance_noise(rgb, WEIGHTS, PHOTON, READ, LIMITS, BIAS, amount)


def test_agrees_with_a_plain_twin():
    rgb = light(40, RUN + 35)
    np.testing.assert_allclose(reduced(rgb), twin(rgb), atol=5e-5)


def few_columns():
    return [shape for shape in ODD_SHAPES if shape[0] * shape[1] < 300]


@pytest.mark.parametrize("shape", few_columns())
def test_nothing_beyond_odd_shapes_is_read(shape):
    """Frames smaller than a block, too, which are mirrored no farther than they go."""
    rgb = light(*shape)
    ours, kept = guarded(reduced, rgb)
    np.testing.assert_array_equal(kept, rgb)
    assert np.isfinite(ours).all()
    if min(shape) >= REACH:
        np.testing.assert_allclose(ours, twin(rgb), atol=5e-5)


def test_a_part_within_its_reach_has_the_same_bits():
    rgb = light(50, RUN + 60)
    whole = reduced(rgb)
    part = np.s_[:, 5:45, 11 : RUN + 51]
    ours = reduced(np.ascontiguousarray(rgb[part]))
    inside = np.s_[:, REACH:-REACH, REACH:-REACH]
    np.testing.assert_array_equal(ours[inside], whole[part][inside])


def test_nothing_changes_where_nothing_is_taken():
    rgb = light(20, 30)
    np.testing.assert_array_equal(reduced(rgb, np.float32(0)), rgb)


@pytest.mark.parametrize("level", [0.0, 0.002, 0.02, 0.2])
def test_noise_of_a_flat_place_goes_and_its_mean_stays(level):
    rng = np.random.default_rng(7)
    deviation = np.sqrt(PHOTON * level + READ)
    rgb = np.float32(level + rng.normal(0, deviation, (1, 300, 300)).repeat(3, 0))
    flat = np.full((8, 8), 2.9, np.float32)
    flat[0, 0] = 0
    ours = reduce_luminance_noise(rgb, WEIGHTS, PHOTON, READ, flat, np.float32(0.25), np.float32(1))
    assert ours[1].std() < 0.3 * deviation
    assert ours.mean(dtype=float) - rgb.mean(dtype=float) == pytest.approx(
        0, abs=float(0.05 * deviation)
    )
