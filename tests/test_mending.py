"""Mended spots: nothing of them is left, texture and noise go on, and tiles change no bit."""

import numpy as np
import pytest

from frames_in_memory import frame
from grading.mending import Spot, mended
from grading.region import Region

HEIGHT, WIDTH = 220, 320
WHOLE = Region.whole(HEIGHT, WIDTH)
SPOTS = (Spot(90.4, 80.7, 9.0), Spot(210.2, 60.1, 5.0), Spot(240.0, 160.0, 16.0))


def sky(seed=1, noise=0.004):
    """A sky that darkens upwards and to a side, with its noise."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH] / WIDTH
    light = np.stack([0.2 + 0.2 * y, 0.25 + 0.2 * y + 0.05 * x, 0.4 + 0.1 * y**2 - 0.05 * x * y])
    return light, light + np.random.default_rng(seed).normal(0, noise, light.shape)


def dusty(light, spots=SPOTS, depth=0.3):
    """Soft discs as dust in front of a sensor throws them."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
    for spot in spots:
        distance = np.hypot(x - spot.x, y - spot.y) / spot.radius
        light = light * (1 - depth / (1 + np.exp(np.minimum(14 * (distance - 0.75), 80))))
    return light


def inside(spot, share=1.0):
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
    return np.hypot(x - spot.x, y - spot.y) <= share * spot.radius


def mend(light, spots=SPOTS):
    return mended(frame(light), spots).pixels.read(WHOLE)


@pytest.mark.parametrize("seed", range(4))
def test_of_dust_in_a_sky_nothing_is_left(seed):
    clean, noisy = sky(seed)
    out = mend(dusty(noisy))
    for spot in SPOTS:
        where = inside(spot)
        off = (out - clean)[:, where]
        before = (dusty(noisy) - clean)[:, where]
        assert np.abs(off.mean(axis=1)).max() < 0.0025 < 0.02 < np.abs(before.mean(axis=1)).min()


def test_noise_goes_on():
    clean, noisy = sky(7)
    off = mend(dusty(noisy)) - clean
    for spot in SPOTS[::2]:
        assert 0.85 < off[:, inside(spot)].std() / 0.004 < 1.15
        y, x = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
        distance = np.hypot(x - spot.x, y - spot.y)
        seam = (distance > spot.radius) & (distance < spot.rim)
        assert 0.65 < off[:, seam].std() / 0.004 < 1.15


def test_texture_goes_on_along_its_lines():
    """Stripes that pass through a spot meet again, so the best of the places was taken."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    stripes = np.broadcast_to(0.3 + 0.1 * np.sin((x + y) / 2.5), (3, HEIGHT, WIDTH))
    spot = SPOTS[0]
    out = mend(dusty(stripes, (spot,)), (spot,))
    left = (out - stripes)[:, inside(spot)]
    assert np.sqrt(np.square(left).mean()) < 0.03 < 0.07 * 0.9


def test_what_is_no_spot_stays_as_it_is():
    _, noisy = sky()
    out, light = mend(noisy), np.float32(noisy)
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
    far = np.all([np.hypot(x - s.x, y - s.y) > s.rim for s in SPOTS], axis=0)
    np.testing.assert_array_equal(out[:, far], light[:, far])


def test_parts_are_those_of_the_whole():
    spots = mended(frame(dusty(sky()[1])), SPOTS)
    whole = spots.pixels.read(WHOLE)
    for part in WHOLE.tiles(37, 50):
        np.testing.assert_array_equal(spots.pixels.read(part), part.cut(whole, WHOLE))


@pytest.mark.parametrize("factor", [2, 4, 8])
def test_smaller_versions_are_means_of_what_is_mended(factor):
    spots = mended(frame(dusty(sky()[1])), SPOTS)
    expected = frame(spots.pixels.read(WHOLE)).pixels.reduced(factor)
    np.testing.assert_allclose(spots.reduced(factor), expected, rtol=1e-5)


def test_no_light_is_taken_from_another_spot():
    near = (Spot(100.0, 100.0, 8.0), Spot(124.0, 100.0, 8.0), Spot(100.0, 124.0, 8.0))
    clean, noisy = sky(3)
    off = mend(dusty(noisy, near, 0.6), near) - clean
    for spot in near:
        assert np.abs(off[:, inside(spot)].mean(axis=1)).max() < 0.004


def test_a_spot_at_the_corner_is_mended_and_one_without_surroundings_stays():
    corner = (Spot(2.0, 3.0, 6.0),)
    clean, noisy = sky(2)
    off = mend(dusty(noisy, corner), corner) - clean
    assert np.abs(off[:, inside(corner[0])].mean(axis=1)).max() < 0.006
    small = np.full((3, 9, 9), 0.2, np.float32)
    kept = mended(frame(small), (Spot(4.0, 4.0, 8.0),)).pixels.read(Region.whole(9, 9))
    np.testing.assert_array_equal(kept, small)


def test_noise_is_no_reason_to_leave_a_spot():
    """A night sky whose noise is a third of its light."""
    clean, noisy = sky(5, noise=0.1)
    off = mend(dusty(noisy, depth=0.7)) - clean
    for spot in SPOTS:
        assert np.abs(off[:, inside(spot)].mean()) < 0.03 < 0.06


def test_where_an_edge_passes_that_goes_on_nowhere_a_spot_stays():
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH]
    spire = np.where(np.abs(x - 90) < (y - 60) / 3, 0.02, 0.5)
    light = dusty(np.broadcast_to(spire, (3, HEIGHT, WIDTH)), SPOTS[:1])
    np.testing.assert_array_equal(mend(light, SPOTS[:1]), np.float32(light))
