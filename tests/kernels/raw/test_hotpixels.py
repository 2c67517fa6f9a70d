"""Hot sites go, light stays."""

import numpy as np
import pytest

from grading.develop.demosaic import demosaic_tile
from grading.kernels.raw.hotpixels import repair_hot_pixels
from grading.kernels.raw.mosaic import unweave
from kernels.guards import ODD_SHAPES, guarded
from kernels.night import LIGHTS, sheet
from kernels.raws import counts, sample, sensor

NOISE = (1e-4, 1e-6)
BALANCE = (2.0, 1.0, 1.6)


def develop(mosaic):
    facts = sensor(mosaic.shape, noise=NOISE)
    return demosaic_tile(mosaic, 0, mosaic.shape[0], 0, mosaic.shape[1], facts, BALANCE)


def untouched_and_repaired(mosaic):
    """Planes of a mosaic's sites, before and after."""
    rows, columns = mosaic.shape
    gains = np.array(BALANCE, np.float32)
    planes = np.empty((4, rows // 2, columns // 2), np.float32)
    unweave(mosaic, 0, 0, sensor(mosaic.shape), gains, planes)
    repaired = planes.copy()
    repair_hot_pixels(repaired, NOISE, gains)
    return planes, repaired


def night(seed=0, shape=(96, 96)):
    signal = np.full(shape, 0.02)
    rng = np.random.default_rng(seed)
    return signal + rng.normal(size=shape) * np.sqrt(NOISE[0] * signal + NOISE[1])


@pytest.mark.parametrize("place", [(40, 40), (40, 41), (41, 40), (41, 41)])
@pytest.mark.parametrize("height", [0.05, 0.5, 0.98])
def test_a_hot_site_is_repaired(place, height):
    clean = night()
    hot = clean.copy()
    hot[place] += height
    error = np.abs(develop(counts(hot)) - develop(counts(clean)))
    assert error.max() < 0.02


def test_hot_sites_at_the_frame_edge_are_repaired():
    clean = night()
    hot = clean.copy()
    hot[0, 0] = hot[95, 50] = hot[30, 95] = 0.7
    assert np.abs(develop(counts(hot)) - develop(counts(clean))).max() < 0.02


def test_noise_alone_is_left_alone():
    untouched, repaired = untouched_and_repaired(counts(night(1, (400, 400))))
    assert np.mean(repaired != untouched) < 1e-4


@pytest.mark.parametrize("fwhm", [1.5, 2.0, 4.0])
@pytest.mark.parametrize("offset", [(0.0, 0.0), (0.5, 0.0), (0.3, 0.4)])
def test_stars_and_lamps_are_left_alone(fwhm, offset):
    y, x = np.indices((96, 96))
    sigma = fwhm / np.sqrt(8 * np.log(2))
    scene = np.full((3, 96, 96), 0.01) / np.array(BALANCE)[:, None, None]
    for k, (row, column) in enumerate([(20, 20), (20, 61), (61, 20), (61, 61)]):
        glow = np.exp(-((y - row - offset[0]) ** 2 + (x - column - offset[1]) ** 2) / 2 / sigma**2)
        tint = np.array([1.0, 0.8, 0.5 + 0.1 * k]) / BALANCE
        scene = scene + 0.7 * tint[:, None, None] * glow
    np.testing.assert_array_equal(*untouched_and_repaired(counts(sample(scene))))


@pytest.mark.parametrize("colour", LIGHTS)
def test_small_discs_of_any_colour_are_left_alone(colour):
    """Lights of a radius of 1.5 and 2 sites, by a lens of little blur."""
    picture = sheet(colour, (1.5, 2)) / np.array(BALANCE)[:, None, None]
    np.testing.assert_array_equal(*untouched_and_repaired(counts(sample(picture))))


def plain_repair(planes):
    """Site by site, as the docstring of the module says, with its thresholds: 1.2 times the ring,
    six deviations of noise, and a rise beside of 0.15 of what stands out; also, whichever is the
    most, of 0.02 of that, of 0.3 of the light beyond and of six deviations of its noise."""
    out, (_, rows, columns) = planes.copy(), planes.shape
    woven = np.empty((2 * rows, 2 * columns))
    for site in range(4):
        woven[site // 2 :: 2, site % 2 :: 2] = planes[site]
    for site, y, x in np.ndindex(4, rows - 4, columns - 4):
        y, x, gain = y + 2, x + 2, BALANCE[(site + 1) // 2]
        ring = np.delete(planes[site, y - 1 : y + 2, x - 1 : x + 2].astype(float).ravel(), 4)
        value, level = float(planes[site, y, x]), max(ring.max(), 0)
        noise = 36 * (gain * NOISE[0] * level + gain**2 * NOISE[1])
        v, u = 2 * y + site // 2, 2 * x + site % 2
        sides = ((0, -1), (0, 1), (-1, 0), (1, 0))
        beyond = [woven[v + 3 * a, u + 3 * b] for a, b in sides]
        rise = max(woven[v + a, u + b] - far for (a, b), far in zip(sides, beyond, strict=True))
        excess, light = value - ring.max(), max(np.mean(beyond), 0)
        unseen = np.sqrt(36 * (gain * NOISE[0] * light + gain**2 * NOISE[1]))
        unseen = max(unseen, 0.02 * excess, 0.3 * light)
        stands_out = max(value - 1.2 * level, 0) ** 2 > noise
        if stands_out and rise < min(0.15 * excess, unseen):
            out[site, y, x] = np.sort(ring)[3:5].mean()
    return out


def test_plain_twin_on_odd_shapes():
    """In noise of both signs with hot sites, also at the edges, where they are only looked at."""
    rng, gains, found = np.random.default_rng(2), np.float32(BALANCE), 0
    for shape in ODD_SHAPES:
        planes = rng.normal(rng.choice([0, -0.006]), 0.002, (4, *shape))
        planes += rng.choice([0, 0.005, 0.02, 0.5], planes.shape, p=[0.85, 0.04, 0.04, 0.07])
        planes = planes.astype(np.float32)
        (repaired,) = guarded(lambda own: repair_hot_pixels(own, NOISE, gains), planes)
        if min(shape) > 4:
            np.testing.assert_allclose(repaired, plain_repair(planes), atol=1e-7)
            found += np.count_nonzero(repaired != planes)
        else:
            np.testing.assert_array_equal(repaired, planes)
    assert found > 100
