"""Colour texture, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter, uniform_filter1d

from grading.kernels.guided import EVEN
from grading.kernels.primitives import aligned, compiled
from grading.kernels.texture import (
    CERTAIN,
    FADE,
    FALSE,
    FAR,
    FROM,
    LED,
    MOST,
    PLAIN,
    REACH,
    RISES,
    SIDE,
    SOON,
    TINTED,
    find_texture,
    gather_row,
)
from kernels.guards import guarded

BESIDE = np.float32([0.14, 0.06])


@compiled
def found(half, lines, told, excess, begin, within):
    """How surely there is texture, for each pixel."""
    rows, columns = half.shape[1:]
    odd = begin[0] % 2, begin[1] % 2
    blocks = aligned((5, (odd[0] + rows + 1) // 2, (odd[1] + columns + 1) // 2))
    line, pair = aligned((columns,)), aligned((3, 2, columns))
    wide = aligned((2 * blocks.shape[2],))
    for y in range(rows):
        for x in range(columns):
            pair[2, (y + odd[0]) % 2, x] = told[2, y, x]
        gather_row(
            half, lines[:2], lines[2:], told[0, y], told[1, y], excess[y], BESIDE, y, odd, line,
            pair, wide, blocks,
        )  # fmt: skip
    twice, odd = find_texture(blocks, within, odd)
    out = aligned((2, within[1] - within[0], within[3] - within[2]))
    for k in range(2):
        for y in range(out.shape[1]):
            for x in range(out.shape[2]):
                out[k, y, x] = twice[k, (y + odd[0]) // 2, x + odd[1]]
    return out


def in_blocks(plane, odd):
    """Means of blocks of 2x2 pixels of the frame, the outermost pixels repeated."""
    more = [(first, (size + first) % 2) for first, size in zip(odd, plane.shape, strict=True)]
    padded = np.pad(plane, more, mode="edge")
    return padded.reshape(padded.shape[0] // 2, 2, -1, 2).mean((1, 3))


def least_of_four(plane):
    padded = np.pad(plane, SIDE, mode="edge")
    ends = slice(None, -2 * SIDE), slice(2 * SIDE, None)
    return np.min([padded[rows, columns] for rows in ends for columns in ends], axis=0)


def window(plane):
    return uniform_filter(plane, 2 * FAR + 1, mode="nearest")


def textured(away, spread, false, unseen, excess, beside, first=(0, 0)):
    """How surely there is texture, by what both colours have beside their lines."""
    more, odd = np.maximum(excess, 0), (first[0] % 2, first[1] % 2)
    unseen = in_blocks(unseen, odd)
    noise = float(PLAIN) - float(LED) * spread / (spread + float(EVEN)) + float(RISES) * more
    noise = noise + (float(FALSE) + float(TINTED) * more) * false
    shares = []
    for plane, variance in zip(away, beside, strict=True):
        energy = in_blocks(np.square(plane) / float(variance) / noise, odd)
        hidden = least_of_four(window(energy * unseen) / (0.5 + 0.5 * window(unseen)))
        whole = least_of_four(window(np.minimum(energy, float(MOST))))
        share = np.maximum(
            (hidden - float(FROM)) / float(FADE), (whole - float(CERTAIN)) / float(SOON)
        )
        share = np.clip(share, 0, 1).repeat(2, 0).repeat(2, 1)
        rows, columns = plane.shape
        shares.append(share[odd[0] : odd[0] + rows, odd[1] : odd[1] + columns])
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
@pytest.mark.parametrize("first", [(4, 6), (5, 7), (4, 7)])
def test_agrees_with_a_plain_twin(shape, first):
    half, lines, told, excess = scene(*shape)
    ours = found(half, lines, told, excess, first, (0, shape[0], 0, shape[1]))
    away = half[1:] - lines[:2] * half[0] - lines[2:]
    known = away.astype(float), *told.astype(float), excess.astype(float)
    expected = textured(*known, BESIDE, first)
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


def parts_with_texture(cases):
    """Shares of noise with more beside its line, some of which stands out, that count."""
    rng = np.random.default_rng(3)
    noise = rng.normal(0, 1, (2, 120, 200)) * np.sqrt(BESIDE)[:, None, None]
    none, whole = np.zeros((4, 120, 200), np.float32), (0, 120, 0, 200)
    for more, stands_out in cases:
        half = np.float32([none[0], *(noise + more * np.sqrt(BESIDE)[:, None, None])])
        told = np.float32([none[0], none[0], 1 - none[0] - np.float32(stands_out)])
        yield found(half, none, told, none[0], (0, 0), whole).mean()


def weave():
    """Texture of deviation 1."""
    grain = uniform_filter1d(np.random.default_rng(4).normal(0, 1, (2, 120, 200)), 2)
    return grain / grain.std((1, 2), keepdims=True)


def test_noise_and_an_edge_are_no_texture_and_weak_texture_is():
    edge, seen = (np.abs(np.arange(200) - 100) < far for far in (2, 3))
    cases = (0, 0), (6 * edge, 0), (6 * edge, seen), (weave(), 0)
    parts = list(parts_with_texture(cases))
    assert parts[0] < 0.01 and parts[1] < 0.1 and parts[2] < 0.01 and parts[3] > 0.9


def test_texture_is_told_where_most_of_it_stands_out_and_lines_that_do_are_none():
    """Of the texture all pixels stand out, but for a twentieth; lines fill a sixth of the plane."""
    drawn = np.arange(200) % 12 < 2
    parts = list(parts_with_texture([(2.5 * weave(), 0.95), (20 * drawn, drawn), (0, 0.95)]))
    assert parts[0] > 0.9 and parts[1] < 0.01 and parts[2] == 0


@pytest.mark.parametrize("shape", [(1, 1), (1, 17), (17, 1), (3, 33), (7, 64)])
def test_nothing_beyond_odd_shapes_is_read(shape):
    planes = scene(*shape)
    within = 0, shape[0], 0, shape[1]
    ours, *kept = guarded(lambda *each: found(*each, (0, 0), within), *planes)
    np.testing.assert_array_equal(kept[0], planes[0])
    assert np.isfinite(ours).all()
