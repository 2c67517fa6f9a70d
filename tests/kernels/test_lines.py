"""Lines sampled at any places: against double precision, analytic patterns and hard edges."""

import numpy as np
import pytest

from grading.kernels.lines import PEAK, PHASES, STEP, lanczos, phases, polynomials, sample_lines
from kernels.guards import guarded


def nodes_of(place, lines, count):
    """Nodes of lines ``place(line, pixel)``, as the kernel takes them."""
    line = np.arange(0, lines + 2 * STEP, STEP)[:, None]
    return np.asarray(place(line, np.arange(0, count + 2 * STEP, STEP)[None]), np.float64)


def sampled(lines, place, count, scale=1.0):
    rows = lines.shape[1]
    out = np.empty((3, count, rows), np.float32)
    nodes = nodes_of(place, rows, count)
    sample_lines(lines, lines.shape[2], (0, rows), nodes, scale, 0, 0, count, out, (0, 0))
    return out.transpose(0, 2, 1)


def twin(lines, place, count, scale=1.0):
    """In double precision, tap by tap, with the exact window."""
    _, rows, length = lines.shape
    at = place(np.arange(rows)[:, None], np.arange(count)[None])
    half = int(np.ceil(3 * scale))
    index = np.floor(at).astype(int)[..., None] + np.arange(1 - half, half + 1)
    weights = lanczos((index - at[..., None]) / scale)
    weights /= weights.sum(axis=-1, keepdims=True)
    taps = lines.astype(np.float64)[:, np.arange(rows)[:, None, None], index.clip(0, length - 1)]
    value = (weights * taps).sum(axis=-1)
    if scale > 1:
        return value
    b, c, d, e = (taps[..., k] for k in (1, 2, 3, 4))
    over = np.maximum(np.minimum(c - b, d - e), 0)
    under = np.minimum(np.maximum(c - b, d - e), 0)
    high, low = np.maximum(c, d) + PEAK * over, np.minimum(c, d) + PEAK * under
    return np.clip(value, low, high)


def slanting(line, pixel):
    return 1.0006 * pixel - 0.0349 * line + 0.37


def noise(rows, columns):
    return np.random.default_rng(1).random((3, rows, columns)).astype(np.float32)


def test_polynomials_are_the_window():
    way = np.linspace(0, 1, 201)
    exact = lanczos(np.arange(6)[:, None] - 2 - way)
    exact /= exact.sum(axis=0)
    half = polynomials().astype(np.float64)
    first = np.array([np.polyval(p[::-1], way - 0.5) for p in half])
    mirrored = np.array([np.polyval(p[::-1], 0.5 - way) for p in half[::-1]])
    found = np.concatenate([first, mirrored])
    np.testing.assert_allclose(found, exact, atol=1e-3)
    np.testing.assert_allclose(found.sum(axis=0), 1, atol=1e-6)


@pytest.mark.parametrize("scale", [1.2, 2.0, 3.7])
def test_weights_of_a_smaller_picture_sum_to_one(scale):
    weights = phases(scale)
    assert weights.shape == (PHASES, 2 * int(np.ceil(3 * scale)))
    np.testing.assert_allclose(weights.sum(axis=1, dtype=np.float64), 1, atol=1e-6)


@pytest.mark.parametrize("place", [slanting, lambda line, pixel: 1.3 * pixel - 0.6 * line + 9.5])
def test_agrees_with_double_precision(place):
    lines = noise(45, 200)
    np.testing.assert_allclose(sampled(lines, place, 150), twin(lines, place, 150), atol=3e-3)


def test_made_shorter_it_agrees_with_double_precision():
    lines = noise(20, 300)

    def place(line, pixel):
        return 2.6 * pixel - 0.1 * line + 3.2

    found, exact = sampled(lines, place, 100, 2.6), twin(lines, place, 100, 2.6)
    np.testing.assert_allclose(found, exact, atol=1e-3)


def test_whole_places_are_the_pixels_themselves():
    lines = noise(5, 90)
    found = sampled(lines, lambda line, pixel: pixel + 3.0 + 0 * line, 80)
    np.testing.assert_allclose(found, lines[:, :, 3:83], atol=2e-6)


def test_a_wave_is_itself_at_any_place():
    """To 4 % of its height up to a quarter of a cycle a pixel; the window itself brings 2 %."""
    x = np.arange(400.0)
    for cycles, allowed in ((0.05, 0.006), (0.15, 0.015), (0.25, 0.04)):
        lines = np.tile(np.sin(2 * np.pi * cycles * x), (3, 8, 1)).astype(np.float32)
        found = sampled(lines, slanting, 300)[0, :, 10:]
        at = slanting(np.arange(8)[:, None], np.arange(300)[None])[:, 10:]
        assert np.abs(found - np.sin(2 * np.pi * cycles * at)).max() < allowed


def test_nothing_rings_beside_a_hard_edge():
    lines = np.zeros((3, 40, 200), np.float32)
    lines[:, :, 90:] = 0.6
    found = sampled(lines, slanting, 150)
    assert found.min() > -1e-6 and found.max() < 0.6 + 1e-6


def test_a_crest_between_two_pixels_is_not_cut_off():
    """At a quarter of a cycle a pixel it is 0.7071, 0.7071 about the crest of 1."""
    line = np.sin(2 * np.pi * 0.25 * (np.arange(80.0) + 0.5))
    lines = np.tile(line, (3, 1, 1)).astype(np.float32)
    found = sampled(lines, lambda line, pixel: pixel + 0.5 + 0 * line, 60)
    assert 0.99 < found[0, 0, 8:].max() < 1.04


def test_beyond_its_ends_a_line_goes_on_as_it_ends():
    lines = noise(3, 50)
    found = sampled(lines, lambda line, pixel: pixel - 40.0 + 0 * line, 150)
    np.testing.assert_allclose(found[:, :, 20], lines[:, :, 0], rtol=1e-5)
    np.testing.assert_allclose(found[:, :, 120], lines[:, :, -1], rtol=1e-5)


def test_parts_are_parts_of_the_whole():
    lines, nodes = noise(70, 200), nodes_of(slanting, 70, 150)
    whole = sampled(lines, slanting, 150)
    for first, last, begin, count in ((0, 70, 64, 86), (17, 18, 0, 150), (32, 70, 32, 1)):
        out = np.full((3, count + 4, last - first + 5), np.nan, np.float32)
        sample_lines(lines, lines.shape[2], (first, last), nodes, 1.0, 0, begin, count, out, (4, 5))
        part = out[:, 4:, 5:].transpose(0, 2, 1)
        np.testing.assert_array_equal(part, whole[:, first:last, begin : begin + count])
        assert np.isnan(out[:, :4]).all() and np.isnan(out[:, :, :5]).all()


@pytest.mark.parametrize("scale", [1.0, 2.3])
def test_nothing_beyond_odd_shapes_is_read(scale):
    for rows, columns in [(1, 1), (1, 7), (3, 5), (16, 33), (17, 64), (5, 1025), (2, 2100)]:
        count = max(int(columns / scale), 1)

        def place(line, pixel):
            return scale * pixel - 0.2 * line + 0.3

        nodes = nodes_of(place, rows, count)

        def work(lines, nodes, out, rows=rows, count=count):
            sample_lines(lines, lines.shape[2], (0, rows), nodes, scale, 0, 0, count, out, (0, 0))

        lines, out = noise(rows, columns), np.empty((3, count, rows), np.float32)
        *_, found = guarded(work, lines, nodes, out)
        exact = twin(lines, place, count, scale)
        np.testing.assert_allclose(found.transpose(0, 2, 1), exact, atol=4e-3)
