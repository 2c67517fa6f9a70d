"""Sixteen pixels at once are sixteen pixels: bit for bit what single precision makes of each."""

import numpy as np
import pytest

from grading.kernels.lanes import (
    LANES,
    alike,
    fetch,
    floor,
    fused,
    gathered,
    greater,
    lesser,
    load,
    numbered,
    store,
    where_at_least,
)
from grading.kernels.primitives import compiled, f32, fma, u64

TINY, HUGE = np.float32(1e-42), np.float32(3e38)
ODD = np.array([0.0, -0.0, 1.0, -1.5, np.inf, -np.inf, np.nan, TINY, HUGE, 2.5, -2.5, 7.0], "f4")


@pytest.fixture(scope="module")
def triples():
    """Every three of some odd numbers and of others, in order."""
    some = np.concatenate([ODD, np.random.default_rng(5).normal(0, 3, 4).astype(np.float32)])
    return [np.ascontiguousarray(each.ravel()) for each in np.meshgrid(some, some, some)]


@compiled
def _by_lanes(a, b, c, out):
    for x in range(0, a.size, LANES):
        k = u64(x)
        u, v, w = load(a, k), load(b, k), load(c, k)
        fetch(a, k)
        store(out[0], k, fused(u, v, w))
        store(out[1], k, lesser(u, v) + greater(v, w))
        store(out[2], k, floor(u) - v * w)
        store(out[3], k, where_at_least(u, f32(1), v, numbered() + alike(f32(2))))


@compiled
def _one_by_one(a, b, c, out):
    for x in range(a.size):
        u, v, w = a[x], b[x], c[x]
        out[0, x] = fma(u, v, w)
        out[1, x] = (u if u < v else v) + (v if v > w else w)
        out[2, x] = f32(np.floor(u)) - v * w
        out[3, x] = v if u >= f32(1) else f32(x % LANES) + f32(2)


def test_lanes_are_scalars(triples):
    found, exact = (np.empty((4, triples[0].size), np.float32) for _ in range(2))
    _by_lanes(*triples, found)
    _one_by_one(*triples, exact)
    assert np.isfinite(exact).mean() > 0.3
    np.testing.assert_array_equal(np.isnan(found), np.isnan(exact))
    known = ~np.isnan(exact)
    np.testing.assert_array_equal(found[known].view(np.uint32), exact[known].view(np.uint32))


@compiled
def _gather(array, starts, place, out):
    store(out, u64(0), gathered(array, starts, u64(1), u64(2), load(place, u64(0))))


def test_each_lane_gathers_its_own():
    array = np.random.default_rng(2).random(500).astype(np.float32)
    starts = np.array([0, 30, 400, 7, 250], np.uint64)
    place = np.resize(np.array([0, 3, 1, 2], np.float32), LANES)
    out = np.empty(LANES, np.float32)
    _gather(array, starts, place, out)
    at = starts[1 + place.astype(int)].astype(int) + 2 + np.arange(LANES)
    np.testing.assert_array_equal(out, array[at])
