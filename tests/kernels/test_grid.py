"""The bilateral grid and what reads it, against NumPy and SciPy in double precision."""

import numpy as np
import pytest
from scipy import ndimage

from cut_pieces import PIECES, cuts
from grading import kernels
from grading.kernels.grid import FINER, LEVEL, NEIGHBOUR, REACH, STEEPEST
from kernels.guards import ODD_SHAPES, guarded

LUMINANCE = np.array([0.2627, 0.6780, 0.0593])
"""Recommendation ITU-R BT.2020-2, table 4."""

LIFT = 2.0, -1.5, 5.0, 4.0
"""Stops for shadows and highlights, and where they are whole."""

DETAIL = 0.7, 2e-3, 1e-5, 0.25
"""Amount, noise of photons, noise of reading, one over the light that is clipped."""


def light(shape, seed=0):
    """Patches over thirteen stops with texture, so that cells differ."""
    rng = np.random.default_rng(seed)
    y, x = np.indices(shape)
    stops = rng.uniform(-8, 5, (9, 9))[y // 11 % 9, x // 13 % 9] + rng.normal(0, 0.4, (3, *shape))
    return (0.18 * np.exp2(stops)).astype(np.float32)


def luminance(rgb):
    y = np.einsum("c,cyx->yx", LUMINANCE, rgb.astype(np.float64))
    return np.clip(np.nan_to_num(y, nan=0.0), 2.0**-16, 2.0**16)


def stops(rgb):
    return np.log2(luminance(rgb) / 0.18)


def carried(values):
    """Running sums that keep a thousandth of themselves from one level to the next."""
    out = values.copy()
    for k in range(1, out.shape[-1]):
        out[..., k] += NEIGHBOUR * out[..., k - 1]
    return out


def with_neighbours(values):
    return carried(values) + carried(values[..., ::-1])[..., ::-1] - values


def limited(deviation):
    """No rise above the allowed one: peaks from below, dips from above, none beyond 0."""
    rise = STEEPEST * LEVEL / FINER
    for k in range(1, deviation.shape[-1]):
        most = np.maximum(deviation[..., k - 1], 0) + rise
        deviation[..., k] = np.minimum(deviation[..., k], most)
    for k in reversed(range(deviation.shape[-1] - 1)):
        least = np.minimum(deviation[..., k + 1], 0) - rise
        deviation[..., k] = np.maximum(deviation[..., k], least)
    return deviation


def grid_twin(rgb, size):
    tones = stops(rgb)
    size = max(1.0, size * max(tones.shape))
    low = np.float32(np.float32(tones.min()) - REACH * LEVEL)
    y, x = (np.floor(index / size).astype(int) for index in np.indices(tones.shape))
    z = np.floor((tones - low) / LEVEL + 0.5).astype(int)
    shape = y.max() + 1, x.max() + 1, z.max() + REACH + 1
    count, total = np.zeros(shape), np.zeros(shape)
    np.add.at(count, (y, x, z), 1)
    np.add.at(total, (y, x, z), tones)
    for axis in range(3):
        weights = np.array([1, 4, 6, 4, 1]) / 16
        count, total = (
            ndimage.convolve1d(v, weights, axis, mode="constant") for v in (count, total)
        )
    own = low + LEVEL * np.arange(shape[2])
    mean = with_neighbours(total - own * count) / with_neighbours(count)
    place = np.arange(FINER * (shape[2] - 1) + 1) / FINER
    finer = np.apply_along_axis(lambda m: np.interp(place, np.arange(m.size), m), 2, mean)
    return limited(finer), low, size


def deviation_twin(grid, factor, tones):
    """Cells interpolated in place and brightness, held at the outermost."""
    cells = grid.cells[:, :-1].astype(np.float64)
    y, x = ((index + 0.5) / (factor * grid.size) - 0.5 for index in np.indices(tones.shape))
    z = (tones - grid.low) * FINER / LEVEL
    return ndimage.map_coordinates(cells, [y, x, z], order=1, mode="nearest")


def lift_twin(rgb, deviation, shadows, highlights, shadow_reach, light_reach):
    def rise(t):
        t = np.clip(t, 0, 1)
        return t * t * (3 - 2 * t)

    base = stops(rgb) + deviation
    given = shadows * rise(-base / shadow_reach) + highlights * rise(base / light_reach)
    return rgb * np.exp2(given)


def detail_twin(rgb, deviation, amount, photon, read, per_clip):
    y = luminance(rgb)
    noise = (photon * y + read) / np.maximum((deviation * y) ** 2, 1e-30)
    near_clip = np.clip(2 * y * per_clip - 1, 0, 1)
    weight = (1 - near_clip**2 * (3 - 2 * near_clip)) / (1 + noise**2)
    return rgb * np.exp2(-amount * weight * deviation)


READERS = [
    (kernels.detail.lift, lift_twin, LIFT),
    (kernels.detail.change_detail, detail_twin, DETAIL),
]


@pytest.mark.parametrize("shape", [(1, 1), (3, 1), (1, 40), (45, 70)])
@pytest.mark.parametrize("size", [0.02, 0.1, 0.4])
def test_the_grid(shape, size):
    rgb = light(shape)
    rgb[:, 0, 0] = 0
    grid = kernels.grid.bilateral_grid(rgb, size)
    cells, low, pixels = grid_twin(rgb, size)
    assert grid.size == pixels
    assert grid.low == pytest.approx(low, abs=1e-6)
    assert grid.cells.shape == (cells.shape[0], cells.shape[1] + 1, cells.shape[2])
    np.testing.assert_allclose(grid.cells[:, :-1], cells, atol=2e-4)
    np.testing.assert_array_equal(grid.cells[:, -1], grid.cells[:, -2])


def test_the_base_rises_no_faster_than_allowed():
    """In stops a stop, with brightness; from dips to peaks it crosses 0, twice as fast."""
    cells = kernels.grid.bilateral_grid(light((90, 120), 5), 0.05).cells
    rise = np.diff(cells, axis=2) * FINER / LEVEL
    assert STEEPEST < rise.max() <= 2 * STEEPEST + 1e-5
    assert cells.max() > LEVEL and cells.min() < -LEVEL


@pytest.mark.parametrize(("read", "twin", "numbers"), READERS)
@pytest.mark.parametrize("factor", [1, 4])
def test_what_reads_it(read, twin, numbers, factor):
    shape = (45, 70)
    small = light(shape, 1)
    rgb = light((45 * factor, 70 * factor), 2)
    grid = kernels.grid.bilateral_grid(small, 0.06)
    kept = rgb.copy()
    out = read(rgb, kernels.grid.spread(grid, factor, 0, rgb.shape[1], 0, rgb.shape[2]), *numbers)
    exact = twin(rgb, deviation_twin(grid, factor, stops(rgb)), *numbers)
    np.testing.assert_allclose(out, exact, rtol=3e-5)
    np.testing.assert_array_equal(rgb, kept)


@pytest.mark.parametrize(("read", "twin", "numbers"), READERS)
def test_any_part_has_the_same_bits(read, twin, numbers):
    rgb = light((37, 50), 3)
    grid = kernels.grid.bilateral_grid(rgb[:, ::2, ::2].copy(), 0.11)

    def part(y0, y1, x0, x1):
        placed = kernels.grid.spread(grid, 2, y0, y1, x0, x1)
        return read(np.ascontiguousarray(rgb[:, y0:y1, x0:x1]), placed, *numbers)

    whole = part(0, 37, 0, 50)
    for pieces in PIECES:
        for y0, y1, x0, x1 in cuts(37, 50, pieces):
            np.testing.assert_array_equal(part(y0, y1, x0, x1), whole[:, y0:y1, x0:x1])


def test_nothing_beyond_odd_shapes_is_read():
    """By the making of the grid, or by either kernel that reads it."""

    def cells(rgb):
        return kernels.grid.bilateral_grid(rgb, 0.3).cells

    for rows, columns in ODD_SHAPES:
        rgb = light((rows, columns))
        guarded(cells, rgb)
        grid = kernels.grid.bilateral_grid(rgb, 0.3)
        exact = deviation_twin(grid, 1, stops(rgb))
        for read, twin, numbers in READERS:

            def on_all(rgb, cells, read=read, numbers=numbers, grid=grid):
                grid, (_, height, width) = grid._replace(cells=cells), rgb.shape
                return read(rgb, kernels.grid.spread(grid, 1, 0, height, 0, width), *numbers)

            out, kept, _ = guarded(on_all, rgb, grid.cells)
            np.testing.assert_allclose(out, twin(rgb, exact, *numbers), rtol=3e-5)
            np.testing.assert_array_equal(kept, rgb)


def test_flat_light_is_its_own_base():
    rgb = np.full((3, 20, 30), 0.045, np.float32)
    grid = kernels.grid.bilateral_grid(rgb, 0.1)
    np.testing.assert_allclose(deviation_twin(grid, 1, stops(rgb)), 0, atol=1e-6)


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, -1.0])
def test_the_grid_stays_finite_about_a_bad_pixel(value):
    rgb = light((20, 20))
    rgb[:, 10, 10] = value
    assert np.isfinite(kernels.grid.bilateral_grid(rgb, 0.05).cells).all()


@pytest.mark.parametrize(("read", "twin", "numbers"), READERS)
@pytest.mark.parametrize("value", [np.nan, np.inf, -0.5, 0.0])
def test_a_bad_channel_keeps_to_itself(read, twin, numbers, value):
    rgb = light((4, 9))
    placed = kernels.grid.spread(kernels.grid.bilateral_grid(rgb, 0.3), 1, 0, 4, 0, 9)
    good = read(rgb, placed, *numbers)
    rgb[1, 2, 5] = value
    bad = read(rgb, placed, *numbers)
    assert np.isfinite(bad[[0, 2], 2, 5]).all()
    good[:, 2, 5] = bad[:, 2, 5]
    np.testing.assert_array_equal(bad, good)
