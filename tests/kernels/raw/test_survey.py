"""What cells tell of light that is known."""

import numpy as np
import pytest
from scipy.ndimage import minimum_filter

from grading.kernels.raw.conclude import BRIGHT, BURNT, extreme
from grading.kernels.raw.survey import cells_of, find_highest, survey
from kernels.guards import guarded
from kernels.raws import BALANCE, counts, sample, sensor

GAINS = np.float32(BALANCE)
PHASES = [(0, 0), (0, 1), (1, 0), (1, 1)]


@pytest.mark.parametrize("phase", PHASES)
def test_ratios_are_those_of_the_light_also_at_an_edge_through_blocks(phase):
    """Brightness changes by a factor of 2 over four pixels, at a slant; colour does not."""
    y, x = np.indices((64, 80))
    level = 0.3 * np.exp2(np.clip((y + 0.5 * x - 50) / 4, 0, 1))
    light = level * np.reshape((0.5, 0.9, 0.7), (3, 1, 1))
    mosaic, facts = counts(sample(light, phase)), sensor((64, 80), phase)
    cells = survey(mosaic, facts, GAINS)
    balanced = np.log2(np.array((0.5, 0.9, 0.7)) * BALANCE)
    exact = balanced[0] - balanced[1], balanced[2] - balanced[1], balanced[0] - balanced[2]
    for ratio, truth in zip(cells[:3, 1:-1, 1:-1], exact, strict=True):
        np.testing.assert_allclose(ratio, truth, atol=0.02)
    assert (cells[3:6] > 0).all() and (cells[BURNT] == 0).all()


def test_where_green_clips_red_and_blue_still_tell_their_ratio():
    light = np.ones((3, 48, 48)) * np.reshape((0.4, 1.3, 0.6), (3, 1, 1))
    cells = survey(counts(sample(light)), sensor((48, 48)), GAINS)
    assert (cells[3:5] == 0).all() and (cells[5] > 0.1).all()
    np.testing.assert_allclose(cells[2], np.log2(0.8 / 0.96), atol=1e-3)
    np.testing.assert_allclose(cells[BRIGHT], 1)


def test_a_background_is_taken_off_what_glows_before_it():
    """A smooth red glow over a bluish night, 20 times as bright."""
    y, x = np.indices((96, 96))
    glow = 0.4 * np.exp(-np.hypot(y - 48, x - 48) / 16)
    night = np.reshape((0.01, 0.015, 0.03), (3, 1, 1))
    light = glow * np.reshape((0.9, 0.3, 0.1), (3, 1, 1)) + night
    cells = survey(counts(sample(light)), sensor((96, 96)), GAINS)
    truth = np.log2(0.9 * 2 / (0.1 * 1.6))
    told = cells[2, 5:7, 5:7]
    plain = np.log2(light[0, 40:56, 40:56].sum() * 2 / (light[2, 40:56, 40:56].sum() * 1.6))
    assert np.abs(told - truth).max() < 0.8 * abs(plain - truth)


def test_a_bird_before_a_clipped_sky_hardly_counts():
    light = np.full((3, 96, 96), 1.5)
    light[:, 44:52, 44:52] = np.reshape((0.3, 0.1, 0.1), (3, 1, 1))
    bird = survey(counts(sample(light)), sensor((96, 96)), GAINS)
    light[:] = np.reshape((0.3, 0.1, 0.1), (3, 1, 1))
    land = survey(counts(sample(light)), sensor((96, 96)), GAINS)
    assert bird[3:6].max() < 0.1 * land[3:6].max()
    assert bird[9:12].max() < 0.01 * land[9:12].max()


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 1), (9, 15), (23, 31)])
def test_odd_shapes(shape, phase):
    mosaic = np.random.default_rng(3).integers(0, 65535, shape, dtype=np.uint16)
    plain = sensor(shape, phase)

    def work(mosaic, rows, columns):
        return survey(mosaic, plain._replace(row_black=rows, column_black=columns), GAINS)

    cells, *_ = guarded(work, mosaic, plain.row_black, plain.column_black)
    assert cells.shape[1:] == tuple(-(-(n + p) // 8) for n, p in zip(shape, phase, strict=True))
    assert np.isfinite(cells).all()


@pytest.mark.parametrize("phase", PHASES)
def test_cells_that_are_asked_for_are_those_of_the_whole_frame(phase):
    """But for the outermost, to whose surroundings those belong that nobody asked for."""
    mosaic = np.random.default_rng(5).integers(4096, 65535, (250, 1100), dtype=np.uint16)
    facts = sensor(mosaic.shape, phase)
    whole = survey(mosaic, facts, GAINS)
    near = np.zeros(whole.shape[1:], bool)
    near[10:, 40:60] = True
    part = survey(mosaic, facts, GAINS, near)
    inner = slice(16, None), slice(32 + 6, 64 - 6)
    np.testing.assert_array_equal(part[:, *inner], whole[:, *inner])
    assert (part[:, :10] == 0).all() and (part[:, :, 64:] == 0).all() and (whole[BRIGHT] > 0).all()


def test_the_number_of_threads_does_not_matter(monkeypatch):
    mosaic = np.random.default_rng(6).integers(4096, 65535, (1100, 60), dtype=np.uint16)
    made = []
    for threads in (1, 4):
        monkeypatch.setattr("os.cpu_count", lambda threads=threads: threads)
        made.append(survey(mosaic, sensor(mosaic.shape), GAINS))
    np.testing.assert_array_equal(*made)


@pytest.mark.parametrize("phase", PHASES)
@pytest.mark.parametrize("shape", [(1, 1), (1, 40), (40, 1), (9, 15), (24, 32)])
def test_the_highest_count_of_each_cell(shape, phase):
    mosaic = np.random.default_rng(7).integers(0, 65535, shape, dtype=np.uint16)
    size = cells_of(mosaic, sensor(shape, phase))
    highest = np.full(size, 7, np.uint16)
    guarded(lambda counts, out: find_highest(counts, phase, out), mosaic, highest)
    find_highest(mosaic, phase, highest)
    ends = [(p, 8 * n - p - s) for p, n, s in zip(phase, size, shape, strict=True)]
    blocks = np.pad(mosaic, ends).reshape(size[0], 8, size[1], 8)
    np.testing.assert_array_equal(highest, blocks.max((1, 3)))


def test_extremes_are_those_of_a_square_window():
    values = np.random.default_rng(8).normal(size=(30, 41)).astype(np.float32)
    for reach in (1, 2, 4, 8):
        twin = minimum_filter(values, 2 * reach + 1, mode="nearest")
        np.testing.assert_array_equal(extreme(np.minimum, values, reach), twin)
