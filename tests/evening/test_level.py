"""Levelling: its parts against published values and known truths."""

from math import log2

import numpy as np
import pytest

from grading.evening.level.overlap import Placing, detail, place, refine, smoothed, warped
from grading.evening.level.pairs import Pair, Ratio, read_ratios
from grading.evening.level.robust import biweight, middle
from grading.evening.level.solve import solve_light, solve_white
from grading.frame import Capture
from grading.inspect.dials import exposure_value, true_stops


@pytest.mark.parametrize(
    ("stated", "true"),
    [(60, 64), (30, 32), (15, 16), (125, 128), (1000, 1024), (50, 2 ** (17 / 3)), (90, 2**6.5),
     (350, 2**8.5), (1250, 2 ** (31 / 3)), (13, 2 ** (11 / 3)), (137, 137)],
)  # fmt: skip
def test_speeds_on_the_dial_are_steps_of_two(stated, true):
    """Common practice, no source: dials are labelled 1/60 where the shutter is open for 1/64 s."""
    assert true_stops(1 / stated) == pytest.approx(-log2(true), abs=1e-9)


@pytest.mark.parametrize(
    ("number", "av"), [(1.4, 1), (1.8, 5 / 3), (2.8, 3), (3.5, 11 / 3), (5.6, 5), (11, 7), (22, 9)]
)
def test_apertures_are_steps_of_the_root_of_two(number, av):
    """APEX: Av = 2 log2 N (ISO 2720, annex; values from memory)."""
    assert true_stops(number, 2) == pytest.approx(av)


def test_exposure_value_is_zero_for_a_second_at_one():
    """EV 0 is 1 s at f/1 (ISO 2720, from memory), EV 15 is 1/125 s at f/16 to rounding."""
    assert exposure_value(Capture(shutter=1, aperture=1, iso=100)) == 0
    assert exposure_value(Capture(shutter=1 / 125, aperture=16, iso=100)) == 15
    assert exposure_value(Capture(shutter=1 / 125, aperture=16)) is None


def test_the_middle_is_not_moved_by_a_third_of_outliers():
    rng = np.random.default_rng(0)
    values = np.concatenate([rng.normal(2, 0.1, 200), rng.uniform(4, 9, 80)])
    assert abs(middle(values)[0] - 2) < 0.02
    assert biweight(np.array([0.0, 4.685, 9.0])).tolist() == [1, 0, 0]


def _scene(rows, columns, placing, noise=0.0, seed=0):
    """A picture of smooth blobs, seen through a placing about its middle."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[:rows, :columns].astype(float)
    x, y = x - (columns - 1) / 2, y - (rows - 1) / 2
    a, b, tx, ty = placing
    u, v = a * x - b * y + tx, b * x + a * y + ty
    stops = np.zeros((rows, columns))
    for _ in range(250):
        cu, cv = rng.uniform(-260, 260), rng.uniform(-180, 180)
        size, height = rng.uniform(3, 14), rng.normal(0, 1.2)
        stops += height * np.exp(-((u - cu) ** 2 + (v - cv) ** 2) / (2 * size**2))
    grain = np.random.default_rng(int(abs(tx) * 100) + 9).normal(0, noise, stops.shape)
    light = 0.1 * np.exp2(stops) * np.exp(grain)
    return np.stack([light] * 3)


@pytest.mark.parametrize(
    ("scale", "degrees", "tx", "ty"),
    [(1, 0, 0, 0), (1, 2.3, 14, -9), (0.7, -1.6, -20, 11), (1.43, 3.4, 6, 17)],
)
def test_a_frame_is_placed_over_another_to_what_smoothing_forgives(scale, degrees, tx, ty):
    angle = np.radians(degrees)
    truth = Placing(scale * np.cos(angle), scale * np.sin(angle), tx, ty)
    first = detail(_scene(200, 300, truth, noise=0.05))
    second = detail(_scene(200, 300, Placing(1, 0, 0, 0), noise=0.05))
    found, alike = refine(first, second, place(first, second, scale))
    corner = np.array([140.0, 90.0])
    for p, q in zip(_moved(found, corner), _moved(truth, corner), strict=True):
        assert abs(p - q) < 2
    assert alike > 0.8


def _moved(placing, point):
    a, b, tx, ty = placing
    x, y = point
    return a * x - b * y + tx, b * x + a * y + ty


def test_placings_follow_each_other_and_lead_back():
    first, second = Placing(1.1, 0.2, 3, -4), Placing(0.8, -0.1, 5, 6)
    point = (7.0, -2.0)
    assert _moved(first.then(second), point) == pytest.approx(_moved(second, _moved(first, point)))
    assert _moved(first.back(), _moved(first, point)) == pytest.approx(point)


def test_smoothing_is_a_mean_with_continued_edges():
    plane = np.random.default_rng(0).random((9, 12))
    padded = np.pad(plane, 2, mode="edge")
    once = np.array([[padded[r : r + 5, c : c + 5].mean() for c in range(12)] for r in range(9)])
    padded = np.pad(once, 2, mode="edge")
    twice = np.array([[padded[r : r + 5, c : c + 5].mean() for c in range(12)] for r in range(9)])
    inner = np.s_[2:-2, 2:-2]
    np.testing.assert_allclose(smoothed(plane, 2)[inner], twice[inner], atol=1e-12)


def test_bilinear_between_pixels_and_nothing_beyond_the_frame():
    plane = np.arange(12.0).reshape(3, 4)
    moved, inside = warped(plane, Placing(1, 0, 0.5, 0), (3, 4))
    np.testing.assert_allclose(moved[:, :3], plane[:, :3] + 0.5)
    assert inside[:, :3].all() and not inside[:, 3].any()


class _Seen:
    def __init__(self, lens):
        self.lens = lens


def test_dark_corners_of_one_lens_are_no_difference_of_exposure():
    """Pairs of two lenses, one of which loses half a stop in the corners."""
    rng = np.random.default_rng(1)
    level, pairs = rng.normal(0, 1, 12), []
    frames = [_Seen((35 if n % 3 else 85, 4)) for n in range(12)]
    for i in range(11):
        for j in range(i + 1, min(i + 4, 12)):
            corners = rng.uniform(0, 1, (300, 2))
            dark = [0.5 if frames[n].lens[0] == 35 else 0.0 for n in (i, j)]
            green = level[i] - level[j] - dark[0] * corners[:, 0] + dark[1] * corners[:, 1]
            noise = rng.normal(0, 0.03, (300, 3))
            pairs.append(Pair(i, j, noise + np.stack([green, 0 * green, 0 * green], 1), corners))
    for found in read_ratios(frames, pairs):
        assert abs(found.ratio[0] - (level[found.first] - level[found.second])) < 0.03


def _evening(seed, slip, wrong=0.05):
    """True light, dials, index and ratios of forty frames, a cloud among them."""
    rng = np.random.default_rng(seed)
    minutes = np.sort(np.linspace(0, 45, 40) + rng.uniform(-0.3, 0.3, 40))
    light = -7 / (1 + np.exp(-(minutes - 25) / 8))
    light[15:19] -= 0.6 * np.array([0.5, 1, 1, 0.6])
    dials = np.round((rng.normal(0, 0.4, 40) - light) * 3) / 3
    level = light + dials + rng.normal(0, slip, 40)
    ratios = []
    for step in (1, 2, 4, 7):
        for i in range(40 - step):
            error = rng.normal(0, 0.015) + (rng.random() < wrong) * rng.normal(0, 1)
            ratios.append(Ratio(i, i + step, np.array([level[i] - level[i + step] + error, 0, 0]),
                                np.full(3, 0.1)))  # fmt: skip
    return minutes * 60, dials, level + rng.normal(0, 0.3, 40), ratios, light, level


@pytest.mark.parametrize("seed", range(6))
def test_the_light_is_told_from_settings_slips_and_a_cloud(seed):
    *given, light, level = _evening(seed, 0.03)
    found, recorded = solve_light(*given)
    course, flicker = found - light, recorded - level
    assert np.std(course) < 0.05 and np.abs(course - course.mean()).max() < 0.15
    assert np.std(np.diff(flicker)) < 0.02


def test_slips_that_no_dial_tells_are_found_by_what_frames_share():
    errors, flickers = [], []
    for seed in range(8):
        *given, light, level = _evening(seed, 0.15)
        found, recorded = solve_light(*given)
        errors.append(np.std(found - light))
        flickers.append(np.std(np.diff(recorded - level)))
    assert np.mean(errors) < 0.11  # no more than a few neighbours share a light to average over
    assert max(flickers) < 0.02


def test_a_white_that_jumps_follows_what_frames_share():
    rng = np.random.default_rng(2)
    seconds = np.linspace(0, 2700, 40)
    white = 0.3 - 0.5 * (seconds / 2700) ** 2
    ratios = [
        Ratio(i, i + d, np.array([0, 0, white[i] - white[i + d] + rng.normal(0, 0.004)]),
              np.full(3, 0.05))
        for d in (1, 2, 4, 7) for i in range(40 - d)
    ]  # fmt: skip
    found = solve_white(seconds, white + rng.normal(0, 0.06, 40), ratios, 2)
    assert np.std(found - white) < 0.005 and abs(np.mean(found - white)) < 0.03


def test_two_frames_that_share_nothing_are_levelled_by_their_dials():
    dials, index = np.array([0.0, 2.0]), np.array([-3.0, -1.0])
    light, level = solve_light(np.array([0.0, 60.0]), dials, index, [])
    assert level[1] - level[0] == pytest.approx(2, abs=0.05)
    assert light[1] - light[0] == pytest.approx(0, abs=0.05)
