"""Demosaicing against published methods, and against what no tiling may change."""

from functools import partial

import numpy as np
import pytest

from grading.develop.demosaic import HALO, demosaic_tile
from grading.kernels.raw.mosaic import bin_tile, interleave
from kernels.guards import ODD_SHAPES, guarded
from kernels.raws import (
    METERED,
    PHOTOGRAPHS,
    counts,
    demo_noise,
    develop,
    noisy,
    photograph,
    psnr,
    published,
    sample,
    sensor,
    zone_plate,
)

NEUTRAL = (1.0, 1.0, 1.0)
PHASES = [(0, 0), (0, 1), (1, 0), (1, 1)]


@pytest.fixture(scope="module")
def on_photographs():
    """CPSNR on each photograph of ours and of Menon, Andriani and Calvagno's method."""
    found = {}
    for name in PHOTOGRAPHS:
        truth = photograph(name)
        mosaic = sample(truth)
        ours, theirs = develop(counts(mosaic)), published("Menon2007", mosaic)
        found[name] = psnr(ours, truth), psnr(theirs, truth)
    return found


@pytest.mark.parametrize(
    ("name", "least"),
    [("astronaut", 37.3), ("coffee", 35.3), ("chelsea", 42.1), ("rocket", 33.4)],
)
def test_beats_refined_directional_filtering_on_photographs(on_photographs, name, least):
    """Menon, Andriani and Calvagno (IEEE TIP 16(1), 2007) with refining; one MSE for all."""
    ours, theirs = on_photographs[name]
    assert ours > theirs + 0.6
    assert ours > least


def test_beats_refined_directional_filtering_by_one_decibel_in_the_mean(on_photographs):
    ours, theirs = np.mean(list(on_photographs.values()), axis=0)
    assert ours > theirs + 1


@pytest.mark.parametrize("name", PHOTOGRAPHS)
@pytest.mark.parametrize(("frame", "least"), [("harbour_06.dng", 2.7), ("harbour_08.dng", 0.25)])
def test_gains_over_bilinear_in_noise(name, frame, least):
    """At a meter's level, with the noise of the demo set at ISO 800 and 3200, which bilinear
    interpolation averages, and this keeps for `grading.stages.denoise` to reduce."""
    gain, offset = demo_noise(frame)
    truth = photograph(name) * METERED
    mosaic = noisy(sample(truth), gain, offset)
    ours = develop(counts(mosaic), noise=(gain, offset))
    assert psnr(ours, truth) > psnr(published("bilinear", mosaic), truth) + least


def test_zone_plate_stays_neutral_under_strong_gains():
    """Rings up to half the sampling rate, through red and blue at half the green's signal.

    Along the diagonals a Bayer mosaic cannot tell fine rings from colour, so those are left out.
    """
    rings, radius = zone_plate()
    gains = np.array([2.0, 1.0, 1.7])[:, None, None]
    mosaic = sample(rings / gains)
    ours = develop(counts(mosaic), balance=gains.ravel()) * gains
    linear = published("bilinear", mosaic) * gains
    assert np.ptp(ours, axis=0).mean() < 0.05  # the corners, too
    resolved = radius < 190
    colour, colour_linear = np.ptp(ours, axis=0)[resolved], np.ptp(linear, axis=0)[resolved]
    assert colour.mean() < 0.02
    assert colour.mean() < colour_linear.mean() / 10


def test_no_dark_pixels_among_glitter():
    """Lamps glittering on water, finer than the sites.

    Of noise that is not a number no site counts as hot.
    """
    rng = np.random.default_rng(7)
    levels = np.exp(rng.normal(-3, 1.2, (96, 96))).clip(0.004, 1)
    light = levels * np.array([0.9, 0.4, 0.1])[:, None, None]
    mosaic = counts(sample(light))
    green = develop(mosaic, balance=(1.7, 1.0, 2.0), noise=(np.nan, np.nan))[1]
    around = np.stack([np.roll(light[1], step, axis) for step in (-1, 1) for axis in (0, 1)])
    known = np.minimum(around.min(axis=0), light[1])
    assert (green > 0.45 * known)[1:-1, 1:-1].all()


@pytest.mark.parametrize("phase", PHASES)
def test_constant_and_ramp_come_back(phase):
    y, x = np.indices((80, 90))
    truth = np.stack((900 + 2 * x + 5 * y, 5000 + 4 * x + 3 * y, 2000 + x + 8 * y)) / 8192
    mosaic = counts(sample(truth, phase), black=0, white=8192)
    ours = develop(mosaic, balance=(2.0, 1.0, 1.5), phase=phase, black=0, white=8192)
    inner = np.s_[:, HALO:-HALO, HALO:-HALO]
    np.testing.assert_allclose(ours[inner], truth[inner], atol=3e-7)
    flat = develop(np.full((40, 44), 9000, np.uint16), balance=(2.0, 1.0, 1.5), phase=phase)
    np.testing.assert_allclose(flat, (9000 - 512) / 60000, atol=3e-7)


@pytest.mark.parametrize("phase", PHASES)
def test_every_phase_gives_the_same_picture(phase):
    rng = np.random.default_rng(1)
    mosaic = rng.integers(600, 60000, (90, 96), dtype=np.uint16)
    whole = develop(mosaic)
    row, column = phase
    shifted = develop(np.ascontiguousarray(mosaic[row:, column:]), phase=phase)
    np.testing.assert_array_equal(
        shifted[:, HALO:-HALO, HALO:-HALO],
        whole[:, row + HALO : -HALO, column + HALO : -HALO],
    )


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("size", [(37, 41), (64, 32), (1, 150), (150, 1)])
def test_tiles_are_bit_identical_to_the_whole(phase, size):
    rng = np.random.default_rng(2)
    mosaic = rng.integers(0, 65535, (121, 134), dtype=np.uint16)
    facts, balance = sensor(mosaic.shape, phase, noise=(1e-4, 1e-6)), (2.1, 1.0, 1.4)
    whole = demosaic_tile(mosaic, 0, 121, 0, 134, facts, balance)
    for y in range(0, 121, size[0]):
        for x in range(0, 134, size[1]):
            y1, x1 = min(121, y + size[0]), min(134, x + size[1])
            tile = demosaic_tile(mosaic, y, y1, x, x1, facts, balance)
            np.testing.assert_array_equal(tile, whole[:, y:y1, x:x1])


def test_borders_of_a_smooth_field_are_as_good_as_its_middle():
    y, x = np.indices((64, 72))
    truth = np.stack([0.4 + 0.2 * np.cos(np.pi * (x + k) / 71) for k in range(3)]) + 0.0 * y
    error = np.abs(develop(counts(sample(truth))) - truth)
    assert error.max() < 0.005


@pytest.mark.parametrize("shape", [(2, 2), (3, 5), (6, 4), (9, 30)])
def test_frames_smaller_than_the_halo(shape):
    flat = develop(np.full(shape, 30512, np.uint16))
    np.testing.assert_allclose(flat, 0.5, atol=1e-6)


def test_exposure_does_not_change_the_interpolation():
    rng = np.random.default_rng(3)
    mosaic = rng.integers(0, 8000, (60, 60), dtype=np.uint16)
    dim, bright = (develop(mosaic, black=0, white=white) for white in (64000, 8000))
    np.testing.assert_allclose(dim * 8, bright, atol=1e-3)


def test_negative_noise_is_kept_without_bias():
    rng = np.random.default_rng(4)
    mosaic = np.rint(rng.normal(512, 12, (400, 400))).astype(np.uint16)
    ours = develop(mosaic, white=16383, noise=(1e-5, (12 / 15871) ** 2))
    assert ours.min() < -30 / 15871
    # 160 000 sites of deviation 12; the mean of the rarest colour wanders by 12 / 200 counts
    np.testing.assert_allclose(ours.mean((1, 2)) * 15871, 0, atol=0.25)


def test_black_of_sites_rows_and_columns_is_taken_off():
    rng = np.random.default_rng(6)
    light = rng.integers(1000, 9000, (40, 46))
    rows, columns = rng.integers(0, 30, 40), rng.integers(0, 30, 46)
    site = np.tile([[100, 200], [300, 400]], (20, 23))
    plain = sensor(light.shape, black=0, white=16000)
    lifted = plain._replace(
        black=np.array([100, 200, 300, 400], np.float32),
        row_black=rows.astype(np.float32),
        column_black=columns.astype(np.float32),
    )
    raised = (light + site + rows[:, None] + columns).astype(np.uint16)
    light = light.astype(np.uint16)
    np.testing.assert_array_equal(
        demosaic_tile(raised, 0, 40, 0, 46, lifted, NEUTRAL),
        demosaic_tile(light, 0, 40, 0, 46, plain, NEUTRAL),
    )
    np.testing.assert_array_equal(
        bin_tile(raised, 0, 20, 0, 23, lifted), bin_tile(light, 0, 20, 0, 23, plain)
    )


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("factor", [2, 4, 6])
def test_block_means(phase, factor):
    rng = np.random.default_rng(7)
    mosaic = rng.integers(600, 60000, (50, 64), dtype=np.uint16)
    signal = (mosaic - 512.0) / 60000
    rows, columns = 50 // factor, 64 // factor
    ours = bin_tile(mosaic, 0, rows, 0, columns, sensor(mosaic.shape, phase), factor)
    y, x = np.indices(mosaic.shape)
    red = ((y + phase[0]) % 2 == 0) & ((x + phase[1]) % 2 == 0)
    blue = ((y + phase[0]) % 2 == 1) & ((x + phase[1]) % 2 == 1)
    for colour, sites in zip(ours, (red, ~(red | blue), blue), strict=True):
        kept = np.where(sites, signal, np.nan)[: rows * factor, : columns * factor]
        blocks = kept.reshape(rows, factor, columns, factor)
        np.testing.assert_allclose(colour, np.nanmean(blocks, axis=(1, 3)), atol=1e-6)
    part = bin_tile(mosaic, 2, 5, 3, 9, sensor(mosaic.shape, phase), factor)
    np.testing.assert_array_equal(part, ours[:, 2:5, 3:9])


@pytest.mark.parametrize("phase", [(0, 0), (0, 1), (1, 0)])
@pytest.mark.parametrize("noise", [(0.0, 0.0), (1e-3, 1e-5)])
def test_a_frame_of_odd_shape_is_as_if_mirrored_at_its_edges(phase, noise):
    """Bit for bit, and nothing beyond it is read; the black of rows and columns goes along."""
    rng, pad, balance = np.random.default_rng(8), HALO + 1, (2.1, 1.0, 1.4)
    for rows, columns in ODD_SHAPES:
        mosaic = rng.integers(600, 60000, (rows, columns), dtype=np.uint16)
        black = np.float32(rng.integers(0, 50, rows)), np.float32(rng.integers(0, 50, columns))

        def develop_part(mosaic, row_black, column_black, y0, x0, size=(rows, columns)):
            facts = sensor(mosaic.shape, phase, noise=noise)
            facts = facts._replace(row_black=row_black, column_black=column_black)
            return demosaic_tile(mosaic, y0, y0 + size[0], x0, x0 + size[1], facts, balance)

        whole, *_ = guarded(partial(develop_part, y0=0, x0=0), mosaic, *black)
        wide = [np.pad(each, pad, mode="reflect") for each in (mosaic, *black)]
        np.testing.assert_array_equal(whole, develop_part(*wide, y0=pad, x0=pad))


@pytest.mark.parametrize("factor", [2, 4])
def test_block_means_of_odd_shapes(factor):
    """What is left over beyond the last whole block is not read, nor what is beyond the frame."""
    rng = np.random.default_rng(9)
    for shape in ODD_SHAPES:
        if min(shape) < factor:
            continue
        mosaic, plain = rng.integers(0, 65536, shape, dtype=np.uint16), sensor(shape)
        rows, columns = (size // factor for size in shape)
        kept = np.ascontiguousarray(mosaic[: rows * factor, : columns * factor])

        def means(mosaic, row_black, column_black, blocks=(rows, columns)):
            facts = sensor(mosaic.shape)._replace(row_black=row_black, column_black=column_black)
            return bin_tile(mosaic, 0, blocks[0], 0, blocks[1], facts, factor)

        ours, *_ = guarded(means, mosaic, plain.row_black, plain.column_black)
        sites = (kept - 512.0).reshape(rows, factor // 2, 2, columns, factor // 2, 2) / 60000
        sites = sites.mean((1, 4)).transpose(1, 3, 0, 2)
        exact = np.stack([sites[0, 0], (sites[0, 1] + sites[1, 0]) / 2, sites[1, 1]])
        np.testing.assert_allclose(ours, exact, atol=1e-6)


@pytest.mark.parametrize("left", [0, 1, 2, 5])
def test_rows_of_any_length_are_woven(left):
    for size in (*range(1, 18), 63, 64, 65):
        half = (left + size + 1) // 2
        even, odd = np.float32(np.random.default_rng(size).random((2, half)))
        out = guarded(partial(weave, left=left), even, odd, np.empty(size, np.float32))[-1]
        np.testing.assert_array_equal(out, np.stack([even, odd], 1).ravel()[left : left + size])


def weave(even, odd, out, left):
    interleave(even, odd, left, out)
