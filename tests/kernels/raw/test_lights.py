"""Small lights lose their beads; what is no such light keeps its bits."""

from functools import lru_cache

import numpy as np
import pytest

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.lights import mend_lights
from grading.kernels.raw.sites import MARGIN
from kernels import night
from kernels.guards import guarded
from kernels.raws import counts, demo_noise, develop, noisy, psnr, published, sample, sensor

GAINS = np.array([1.8, 1.0, 1.3], np.float32)
INSIDE = np.s_[..., MARGIN:-MARGIN, MARGIN:-MARGIN]
NOISES = [(0.0, 0.0), demo_noise("harbour_08.dng")]  # ISO 3200


def half_planes(picture, noise=(0.0, 0.0), seed=5):
    """Balanced planes of the sites of a picture in balanced light."""
    gains = GAINS[:, None, None]
    mosaic = noisy(sample(picture / gains), *noise, seed) * sample(gains + 0 * picture)
    planes = [mosaic[r::2, c::2] for r in range(2) for c in range(2)]
    return np.float32(planes)


def blank(planes):
    """Green and colours that nothing is known of yet."""
    shape = planes.shape[1:]
    return np.full((2, *shape), 0.25, np.float32), np.full((2, 4, *shape), 0.125, np.float32)


def moved(x, dy, dx):
    return np.roll(x, (-dy, -dx), (0, 1))


def mean(x, reach):
    steps = range(-reach, reach + 1)
    return sum(moved(x, y, x_) for y in steps for x_ in steps) / len(steps) ** 2


def rise(x):
    x = np.clip(x, 0, 1)
    return x * x * (3 - 2 * x)


def within(x, near):
    low, high = np.min(near, 0), np.max(near, 0)
    return np.clip(x, np.minimum(low / 2, 2 * low), np.maximum(high / 2, 2 * high))


def nothing(light, noise):
    return (0.01 * light) ** 2 + noise[0] * light + noise[1] + 1e-12


def twin_contrasts(planes, noise):
    red, green0, green1, blue = planes
    means = [mean(red, 2), mean((green0 + green1) / 2, 2), mean(blue, 2)]
    squares = [mean(red**2, 2), mean((green0**2 + green1**2) / 2, 2), mean(blue**2, 2)]
    light = np.maximum(np.max(means, 0), 0)
    floor = nothing(light, noise)
    variances = [np.maximum(s - m * m, 0) + floor for s, m in zip(squares, means, strict=True)]
    highest, lowest = np.max(variances, 0), np.min(variances, 0)
    strong = (highest - floor) / (light**2 + 1e-12)
    return variances, rise((highest / lowest - 3) / 3) * rise((strong - 0.2) / 0.2)


def twin_green(planes, k, scale):
    own, estimates, costs, near = planes[3 * k], [], [], []
    for beside, step in ((2 * k + 1 - k, (0, 1)), (2 - 2 * k + k, (1, 0))):
        before, after = (moved(planes[beside], *(np.array(step) * (k - 1 + end))) for end in (0, 1))
        ends = [moved(own, *(sign * np.array(step))) for sign in (-1, 1)]
        bend = scale * (2 * own - ends[0] - ends[1])
        beyond = abs(after - before) / 4 + 0.05 * abs(bend)
        low, high = np.minimum(before, after) - beyond, np.maximum(before, after) + beyond
        estimates.append(np.clip((before + after) / 2 + bend / 4, low, high))
        change = abs(after - before - scale * (ends[1] - ends[0]) / 2) + abs(bend) / 2 + 1e-6
        costs.append(change**4)
        near += [before, after]
    green = (costs[1] * estimates[0] + costs[0] * estimates[1]) / (costs[0] + costs[1])
    return within(green, near)


def twin(planes, noise):
    """Green, colours and shares of what is mended, in float64; wrong near the edges."""
    planes, most = planes.astype(float), float(GAINS.max())
    noise = most * noise[0], most**2 * noise[1]
    variances, share = twin_contrasts(planes, noise)
    green = [twin_green(planes, k, np.sqrt(variances[1] / variances[2 * k])) for k in range(2)]
    sites, colours = (green[0], planes[1], planes[2], green[1]), np.empty((2, 4, *share.shape))
    for k in range(2):
        own, guide = planes[3 * k], green[k]
        level, own_level = mean(guide, 1), mean(own, 1)
        slope = np.maximum(mean(guide * own, 1) - level * own_level, 0)
        spread = np.maximum(mean(guide**2, 1) - level**2, 0)
        slope /= spread + nothing(np.maximum(np.maximum(level, own_level), 0), noise)
        for site in range(4):
            rows = (0, 0) if site // 2 == k else (site // 2 - 1, site // 2)
            columns = (0, 0) if site % 2 == k else (site % 2 - 1, site % 2)
            steps = [(y, x) for y in rows for x in columns]
            lines = [moved(slope, *s) * sites[site] + moved(own - slope * guide, *s) for s in steps]
            colours[k, site] = within(sum(lines) / 4, [moved(own, *s) for s in steps])
        colours[k] /= GAINS[2 * k]
    return np.array(green), colours, share


@pytest.mark.parametrize("noise", NOISES)
def test_agrees_with_a_plain_twin(noise):
    planes = half_planes(night.skyline(21, rows=160, columns=240), noise)
    green, colours = blank(planes)
    mend_lights(planes, noise, GAINS, green, colours)
    new_green, new_colours, share = twin(planes, noise)
    assert 0.1 < (share[INSIDE] > 0).mean() < 0.9
    known = 0.25 + share * (new_green - 0.25)
    np.testing.assert_allclose(green[INSIDE], known[INSIDE], atol=5e-6)
    known = 0.125 + share * (new_colours - 0.125)
    for k in range(2):
        known[k, 3 * k] = 0.125  # where the colour is measured
    np.testing.assert_allclose(colours[INSIDE], known[INSIDE], atol=5e-6)


@pytest.mark.parametrize("rows", [2 * MARGIN + n for n in (0, 1, 2, 15, 16, 17, 33)])
def test_odd_shapes_are_those_of_a_wider_frame_and_nothing_beyond_is_read(rows):
    wide = half_planes(night.discs(22, rows=120, columns=400, count=50))
    for columns in (2 * MARGIN, 2 * MARGIN + 1, 33, 34, 35, 129, 130, 131, 147):
        planes = np.ascontiguousarray(wide[:, :rows, :columns])
        arrays = planes, *blank(planes)
        mended = guarded(lambda *a: mend_lights(a[0], (0.0, 0.0), GAINS, *a[1:]), *arrays)
        known = wide.copy(), *blank(wide)
        mend_lights(known[0], (0.0, 0.0), GAINS, *known[1:])
        for ours, before, whole in zip(mended, arrays, known, strict=True):
            before = before.copy()
            before[INSIDE] = whole[..., :rows, :columns][INSIDE]
            np.testing.assert_array_equal(ours, before)


def test_what_is_no_light_keeps_its_bits():
    """Grey of high contrast, even colours, noise, and whatever is there if noise is unknown.

    The same contrast in red is a light.
    """
    y, x = np.indices((90, 90))
    grey = np.stack([np.exp(2 * np.sin(y / 6) * np.sin(x / 7) - 2)] * 3)
    even = np.ones((3, 90, 90)) * np.reshape((0.8, 0.02, 0.01), (3, 1, 1))
    lights = night.discs(24, rows=90, columns=90, count=12)
    unknown, high = (np.nan, np.nan), NOISES[1]
    for picture, noise in ((grey, NOISES[0]), (even, high), (0 * even, high), (lights, unknown)):
        planes = half_planes(picture, (0, 0) if noise is unknown else noise)
        green, colours = blank(planes)
        mend_lights(planes, noise, GAINS, green, colours)
        assert (green == 0.25).all() and (colours == 0.125).all()
    green, colours = blank(planes)
    mend_lights(half_planes(grey * [[[1]], [[0.3]], [[0.3]]]), NOISES[0], GAINS, green, colours)
    assert (green != 0.25).any() and (colours != 0.125).any()


@pytest.mark.parametrize("colour", night.LIGHTS)
def test_no_beads_on_the_rims_of_discs(colour):
    """The largest error of a disc, the mean of four places: at most 13 % of its light.

    Orange has a rim of green that neither red nor blue tells: its blue is that of the ground.
    """
    truth = night.sheet(colour)
    error = np.abs(np.clip(develop(counts(sample(truth))), 0, 1) - truth).max(0) / truth.max()
    side = error.shape[1] // 4
    largest = error.reshape(-1, side, 4, side).max((1, 3)).mean(1)
    assert (largest < (0.25 if colour == "orange" else 0.13)).all()


@lru_cache(1)
def drawn(picture):
    return picture(25)


@pytest.mark.parametrize("noise", NOISES)
@pytest.mark.parametrize(
    ("picture", "gain"), [(night.discs, 5), (night.neon, 2), (night.skyline, 0.5)]
)
def test_gains_over_refined_directional_filtering_at_night(picture, gain, noise):
    """Menon, Andriani and Calvagno (IEEE TIP 16(1), 2007) with refining."""
    truth = drawn(picture)
    mosaic = noisy(sample(truth), *noise)
    ours = develop(counts(mosaic), noise=noise)
    assert psnr(ours, truth) > psnr(published("Menon2007", mosaic), truth) + gain


@pytest.mark.parametrize("phase", [(0, 0), (0, 1), (1, 0), (1, 1)])
def test_tiles_are_bit_identical_to_the_whole(phase):
    noise = NOISES[1]
    mosaic = counts(noisy(sample(night.skyline(27, rows=140, columns=210), phase), *noise))
    facts, balance = sensor(mosaic.shape, phase, noise=noise), (1.6, 1.0, 1.3)
    whole = demosaic_tile(mosaic, 0, 140, 0, 210, facts, balance)
    for height, width in ((37, 41), (64, 32), (5, 210)):
        for y in range(0, 140, height):
            for x in range(0, 210, width):
                y1, x1 = min(140, y + height), min(210, x + width)
                tile = demosaic_tile(mosaic, y, y1, x, x1, facts, balance)
                np.testing.assert_array_equal(tile, whole[:, y:y1, x:x1])


def test_exposure_does_not_change_what_is_a_light():
    mosaic = counts(sample(night.discs(28)), black=0, white=8000)
    dim, bright = (develop(mosaic, black=0, white=white) for white in (64000, 8000))
    np.testing.assert_allclose(dim * 8, bright, atol=1e-4)
