"""Colour texture, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter, uniform_filter1d

from grading.kernels.guided import EVEN
from grading.kernels.primitives import aligned, compiled
from grading.kernels.texture import (
    FADE,
    FALSE,
    FIFTH,
    FROM,
    LED,
    PLAIN,
    REACH,
    RISES,
    SIDE,
    TINTED,
    find_texture,
)
from kernels.guards import guarded

BESIDE = np.float32([0.14, 0.06])


@compiled
def found(half, lines, told, excess, begin, within):
    out = aligned((2, within[1] - within[0], within[3] - within[2]))
    place = begin[0] - 2, begin[1] - 2
    find_texture(
        half, lines[:2], lines[2:], told[0], told[1], told[2], excess, place, begin, BESIDE,
        within, out,
    )  # fmt: skip
    return out


def mean15(plane):
    """Of five means of 3x3 each way, the outermost repeated."""
    plane = uniform_filter(plane, 3, mode="nearest")
    padded = np.pad(plane, 2 * FIFTH, mode="edge")
    starts = range(0, 4 * FIFTH + 1, FIFTH)
    rows, columns = plane.shape
    return np.mean([padded[a : a + rows, b : b + columns] for a in starts for b in starts], axis=0)


def least_of_four(plane):
    padded = np.pad(plane, SIDE, mode="edge")
    ends = slice(None, -2 * SIDE), slice(2 * SIDE, None)
    return np.min([padded[rows, columns] for rows in ends for columns in ends], axis=0)


def textured(away, spread, false, unseen, excess, beside):
    """How surely there is texture, by what both colours have beside their lines."""
    more = np.maximum(excess, 0)
    noise = float(PLAIN) - float(LED) * spread / (spread + float(EVEN)) + float(RISES) * more
    noise = noise + (float(FALSE) + float(TINTED) * more) * false
    shares = []
    for plane, variance in zip(away, beside, strict=True):
        energy = mean15(np.square(plane) / float(variance) / noise * unseen)
        energy = least_of_four(energy / (0.5 + 0.5 * mean15(unseen)))
        shares.append(np.clip((energy - float(FROM)) / float(FADE), 0, 1))
    return np.stack(shares)


def scene(rows, columns, seed=0):
    """Colours of some texture beside lines, in noise that differs from place to place."""
    rng = np.random.default_rng(seed)
    half = rng.normal(0, 2, (3, rows, columns))
    half[1:] *= 0.15 * np.linspace(0.7, 2, columns)
    lines = rng.normal(0, 0.01, (4, rows, columns))
    told = rng.uniform(0, 1, (3, rows, columns)) * np.reshape([3, 0.5, 1], (3, 1, 1))
    excess = rng.uniform(-0.1, 0.4, (rows, columns))
    return tuple(np.float32(each) for each in (half, lines, told, excess))


@pytest.mark.parametrize("shape", [(40, 61), (25, 23), (1, 1), (3, 90), (70, 2)])
def test_agrees_with_a_plain_twin(shape):
    half, lines, told, excess = scene(*shape)
    ours = found(half, lines, told, excess, (4, 6), (0, shape[0], 0, shape[1]))
    away = half[1:] - lines[:2] * half[0] - lines[2:]
    expected = textured(away.astype(float), *told.astype(float), excess.astype(float), BESIDE)
    np.testing.assert_allclose(ours, expected, atol=2e-5)
    assert shape[0] * shape[1] < 500 or 0.1 < expected.mean() < 0.9


def test_a_part_within_its_reach_has_the_same_bits():
    planes = scene(60, 80)
    whole = found(*planes, (0, 0), (0, 60, 0, 80))
    for top, left in (0, 0), (7, 12):
        cut = [np.ascontiguousarray(e[..., top : top + 41, left : left + 52]) for e in planes]
        within = REACH, 41 - REACH, REACH, 52 - REACH
        ours = found(*cut, (top, left), within)
        place = np.s_[:, top + within[0] : top + within[1], left + within[2] : left + within[3]]
        np.testing.assert_array_equal(ours, whole[place])


def test_noise_and_an_edge_are_no_texture_and_weak_texture_is():
    """Noise of the variance that is expected; texture of the same."""
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 1, (2, 120, 200)) * np.sqrt(BESIDE)[:, None, None]
    edge = 6 * noise.std() * (np.abs(np.arange(200) - 100) < 2)
    texture = uniform_filter1d(rng.normal(0, 1, (2, 120, 200)), 2)
    texture *= noise.std((1, 2), keepdims=True) / texture.std((1, 2), keepdims=True)
    none, seen = np.zeros((4, 120, 200), np.float32), np.abs(np.arange(200) - 100) < 3
    told, parts = np.float32([none[0], none[0], 1 - none[0]]), []
    for more, stands_out in ((0, 0), (edge, 0), (edge, seen), (texture, 0)):
        half = np.float32([none[0], *(noise + more)])
        told[2] = 1 - np.float32(stands_out)
        parts.append(found(half, none, told, none[0], (0, 0), (0, 120, 0, 200)).mean())
    assert parts[0] < 0.01 and parts[1] < 0.1 and parts[2] < 0.01 and parts[3] > 0.9


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    planes = scene(*shape)
    within = 0, shape[0], 0, shape[1]
    ours, *kept = guarded(lambda *each: found(*each, (0, 0), within), *planes)
    np.testing.assert_array_equal(kept[0], planes[0])
    assert np.isfinite(ours).all()
