"""Coarse colour, and a tile's colour by what is above noise, against plain twins."""

import numpy as np
import pytest

from grading.kernels.coarse_colour import BENT, FARTHEST, LEFT, MOST_STEPS, TONES, coarse_colour
from grading.kernels.colour_noise import FADE, FROM, MOST, REACH, STRUCTURE, reduce_colour_noise
from kernels.guards import ODD_SHAPES, guarded

FORWARD = np.float32([[0.3, 0.6, 0.1], [9.0, -7.0, -2.0], [-3.0, -8.0, 11.0]])
BACK = np.linalg.inv(FORWARD.astype(float)).astype(np.float32)
NOISE = np.float32([0.02, 1.5, 0.01, -0.02])
LIGHT_NOISE = np.float32([2e-4, 0.01, 1e-4, 1e-4])
DETAILS = np.float32([0.6, 0.07, 0.03])
PHOTON, READ = np.float32(0.01), np.float32(2e-4)
KEPT = np.float32([0.4, 0.1])


def light(rows, columns, seed=0):
    """Patches of four colours with noise, in light and in the dark."""
    rng = np.random.default_rng(seed)
    colours = np.array([[0.2, 0.1, 0.05], [0.02, 0.05, 0.2], [0.1, 0.1, 0.1], [0, 0, 0]])
    patch = (np.arange(rows)[:, None] // 9 + np.arange(columns) // 7) % 4
    shot = colours[patch].transpose(2, 0, 1)
    return np.float32(shot + rng.normal(size=shot.shape) * np.sqrt(0.002 * shot + 2e-5))


def variance(form, planes):
    found = form[0] + np.tensordot(form[1:].astype(float), planes, 1)
    return np.maximum(found, form[0] / 2)


def moved(planes, down, over):
    """Planes as seen from so far away, the outermost pixels repeated."""
    rows = np.clip(np.arange(planes.shape[-2]) + down, 0, planes.shape[-2] - 1)
    columns = np.clip(np.arange(planes.shape[-1]) + over, 0, planes.shape[-1] - 1)
    return planes[..., rows[:, None], columns]


def nine(far):
    return [(y * far, x * far, (2 - abs(y)) * (2 - abs(x))) for y in (-1, 0, 1) for x in (-1, 0, 1)]


def mean(planes, far):
    return sum(w * moved(planes, y, x) for y, x, w in nine(far)) / 16


def coarse_twin(reduced, steps):
    planes = np.tensordot(FORWARD.astype(float), reduced, 1)
    colour, tone = (variance(form, mean(planes, 1)) for form in (NOISE, LIGHT_NOISE))
    for step in range(steps):
        far = 2 * float(FARTHEST) * float(LEFT[step])
        width = far * tone + np.square(float(TONES) * planes[0]), far * colour, far * colour
        narrow = [each / float(BENT) for each in width]
        total, sums = 4, 4 * planes
        for y, x, share in nine(2**step)[:4]:
            sides = [moved(planes, y, x) - planes, moved(planes, -y, -x) - planes]
            alone = [alike(side, width) for side in sides]
            more = np.maximum(alike(sum(sides), narrow) - np.minimum(*alone), 0)
            for side, weight in zip(sides, alone, strict=True):
                weight = share * (weight + more)
                total, sums = total + weight, sums + weight * (planes + side)
        planes = sums / total
    return planes


def alike(difference, width):
    return np.maximum(1 - sum(np.square(difference) / width), 0) ** 2


def padded(planes):
    return np.pad(planes, ((0, 0), (8, 8), (8, 8)), mode="edge")


def twin(rgb, coarse, kept):
    own = np.tensordot(FORWARD.astype(float), rgb, 1)
    near = mean(padded(own), 1)
    middle, near = mean(near, 2)[:, 8:-8, 8:-8], near[:, 8:-8, 8:-8]
    planes = coarse.astype(float)
    sure = 1 / variance(NOISE, planes)

    def with_detail(planes, detail, which):
        energy = np.square(detail[1:]).sum(0) * sure / DETAILS[which]
        return planes + np.clip((energy - FROM[which]) / FADE, 0, 1) * detail

    planes = with_detail(planes, middle - planes, 2)
    rest = middle - planes
    planes = with_detail(planes, near - middle, 1)
    planes = with_detail(planes, own - near, 0)
    clean, above = np.tensordot(BACK.astype(float), planes, 1), own[0] - planes[0]
    level = np.maximum(PHOTON * planes[0] + READ, READ / 4)
    by_root = above / (1 + above**2 / level / STRUCTURE)
    grain = np.sqrt(np.clip((PHOTON * clean + READ) / level, 0, MOST))
    clean = clean + above + (grain - 1) * by_root
    rest[0] = 0
    given = np.tensordot(BACK.astype(float), rest, 1)
    return clean + kept[0] * (rgb - clean) + (kept[1] - kept[0]) * given


def reduced(rgb, coarse, kept=KEPT):
    return reduce_colour_noise(rgb, coarse, FORWARD, BACK, NOISE, DETAILS, PHOTON, READ, kept)


def cascade(rgb, steps):
    return coarse_colour(rgb, FORWARD, NOISE, LIGHT_NOISE, steps)


@pytest.mark.parametrize("steps", range(1, MOST_STEPS + 1))
def test_coarse_colour_agrees_with_its_twin(steps):
    rgb = light(45, 61)
    ours = cascade(rgb, steps)
    # where a pixel is about to count or not, a last digit is worth a little
    np.testing.assert_allclose(ours, coarse_twin(rgb, steps), atol=2e-4)


def test_a_gradient_loses_as_much_noise_as_what_is_even_and_an_edge_stays():
    rng, x = np.random.default_rng(5), np.arange(160)
    fades, edge = np.float32([[0.5], [0.0], [-0.5]]) * (x / 160), np.float32([[0.5], [0], [0]])
    noise, left = 0.04 * rng.normal(size=(3, 60, 160)), []
    for true in (0 * fades, fades, edge * (x < 80)):
        exact = np.broadcast_to(0.3 + true[:, None], noise.shape)
        more = cascade(np.float32(exact + noise), 5) - np.tensordot(FORWARD, exact, 1)
        left.append(more[1:, 8:-8, 20:-20].std())
    assert max(left[1:]) < 1.25 * left[0]


@pytest.mark.parametrize("kept", [(0.0, 0.0), (0.4, 0.1), (1.0, 1.0)])
def test_a_tile_agrees_with_its_twin(kept):
    rgb = light(45, 61)
    coarse, kept = cascade(rgb, 3), np.float32(kept)
    np.testing.assert_allclose(reduced(rgb, coarse, kept), twin(rgb, coarse, kept), atol=3e-6)


@pytest.mark.parametrize("shape", ODD_SHAPES)
def test_nothing_beyond_odd_shapes_is_read(shape):
    rgb = light(*shape)
    (coarse, kept_rgb) = guarded(lambda x: cascade(x, 4), rgb)
    np.testing.assert_allclose(coarse, coarse_twin(rgb, 4), atol=2e-4)
    ours, *kept = guarded(reduced, rgb, np.ascontiguousarray(coarse))
    np.testing.assert_allclose(ours, twin(rgb, coarse, KEPT), atol=3e-6)
    for each, before in zip([kept_rgb, *kept], [rgb, rgb, coarse], strict=True):
        np.testing.assert_array_equal(each, before)


def test_a_part_within_its_reach_has_the_same_bits():
    rgb = light(40, 50)
    coarse = cascade(rgb, 3)
    whole = reduced(rgb, coarse)
    part = np.s_[:, 11:30, 7:41]
    ours = reduced(*(np.ascontiguousarray(each[part]) for each in (rgb, coarse)))
    inside = np.s_[:, REACH:-REACH, REACH:-REACH]
    np.testing.assert_array_equal(ours[inside], whole[part][inside])


def test_what_is_wholly_kept_is_as_it_was():
    rgb = light(30, 40)
    ours = reduced(rgb, cascade(rgb, 3), np.ones(2, np.float32))
    np.testing.assert_allclose(ours, rgb, atol=1e-6)
