"""Light smoothed along edges, against the same in plain NumPy and double precision."""

import numpy as np
import pytest

from cut_pieces import PIECES, cuts
from frames_in_memory import scene
from grading.kernels.base import FLOOR, LUMINANCE
from grading.kernels.smooth_light import reach, smooth_light
from kernels.guards import guarded

NOISE = 1e-3, 1e-6


def twin(rgb, edge, photon, read, passes):
    rgb = rgb.astype(np.float64)
    for k in range(passes):
        step, left = 1 << k, 0.25**k
        _, rows, columns = rgb.shape
        light = np.maximum(np.tensordot(np.float64(LUMINANCE), rgb, 1), FLOOR)
        scale = (edge * light) ** 2 + left * (photon * light + read)
        wide = np.pad(rgb, ((0, 0), (step, step), (step, step)), mode="edge")
        sums, total = np.zeros_like(rgb), np.zeros(light.shape)
        for j in range(3):
            for i in range(3):
                there = wide[:, j * step : j * step + rows, i * step : i * step + columns]
                far = ((there - rgb) ** 2).sum(axis=0) / scale
                weight = (2 - abs(j - 1)) * (2 - abs(i - 1)) / (1 + far) ** 2
                sums += weight * there
                total += weight
        rgb = sums / total
    return rgb


@pytest.mark.parametrize("shape", [(1, 1), (1, 70), (9, 3), (23, 41)])
@pytest.mark.parametrize("passes", [0, 1, 4])
def test_agrees_with_double_precision(shape, passes):
    light = scene(*shape, seed=1)
    (out, _) = guarded(lambda x: smooth_light(x, 0.12, *NOISE, passes), light)
    assert out.dtype == np.float32
    np.testing.assert_allclose(out, twin(light, 0.12, *NOISE, passes), rtol=2e-4, atol=2e-6)


@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_within_their_reach_agree_bit_for_bit(pieces):
    light, far = scene(60, 80, seed=2), reach(3)
    whole = smooth_light(light, 0.12, *NOISE, 3)
    for y0, y1, x0, x1 in cuts(60, 80, pieces):
        top, left = max(y0 - far, 0), max(x0 - far, 0)
        part = smooth_light(
            np.ascontiguousarray(light[:, top : y1 + far, left : x1 + far]), 0.12, *NOISE, 3
        )
        inside = part[:, y0 - top : y1 - top, x0 - left : x1 - left]
        np.testing.assert_array_equal(inside, whole[:, y0:y1, x0:x1])


def test_noise_goes_and_an_edge_stays_where_it_is():
    rng = np.random.default_rng(4)
    clean = np.full((3, 80, 80), 0.4)
    clean[:, 41:] = 0.05
    deviation = np.sqrt(1e-3 * clean)
    light = np.float32(clean + rng.normal(0, 1, clean.shape) * deviation)
    out = smooth_light(light, 0.12, 4 * 3e-3, 0.0, 4)
    assert (out - clean)[:, :30].std() < 0.2 * (light - clean)[:, :30].std()
    beside = out[:, [40, 41], 20:60].mean(axis=(0, 2))
    np.testing.assert_allclose(beside, [0.4, 0.05], rtol=0.05)


def test_without_noise_an_edge_keeps_its_light_to_a_thousandth():
    light = np.full((3, 30, 30), 0.4, np.float32)
    light[:, 11:] = 0.05
    np.testing.assert_allclose(smooth_light(light, 0.12, 0.0, 0.0, 4), light, rtol=4e-3)
