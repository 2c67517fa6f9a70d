"""Luminance and colours without their noise, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from grading.kernels.half_colours import APART, EVEN, FADE, FALSE, NEVER
from grading.kernels.lamps import CORE
from grading.kernels.noise import LIMIT, REACH, coarse_changes, reduce_noise
from grading.region import Region
from kernels.guards import ODD_SHAPES, guarded
from kernels.test_cosines import RISES, refined, risen, shrunk
from kernels.test_excess import twin as exceeding
from kernels.test_lamps import twin as lamps
from kernels.test_stand_out import stood_out

OWN = np.float32([[1.2, -0.1, -0.1], [0.05, 0.9, 0.05], [-0.1, -0.2, 1.3]])
LIGHT = np.linalg.inv(OWN.astype(float)).astype(np.float32)
PHOTON, READ = np.float32(2e-3), np.float32(3e-5)
LIMITS = np.float32(2.9 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))
COLOUR_LIMITS = np.float32(3 / (1 + np.add.outer(np.arange(8), np.arange(8))))
SPECTRA = np.float32([[[1.2]], [[0.5]]]) * np.square(LIMITS / np.float32(2.9))
COLOUR_LIMITS[0, 0] = 0
SITES = np.float32([0.25, 0.53, 0.22])
COLOURS, KEPT = np.float32([1.1, 0.7]), np.float32([0.4, 0.1])
BESIDE = np.float32([0.14, 0.06])
BIAS = np.float32([0.15, 0.1, 0.05, 0.08])
TOLD = (
    OWN, LIGHT, PHOTON, READ, LIMITS, SPECTRA, RISES, SITES, COLOUR_LIMITS, COLOURS, BESIDE, BIAS,
    KEPT,
)  # fmt: skip
AXES = np.array([[1, 2, 1], [1, 0, -1], [1, -2, 1]]) / np.sqrt([[16 / 3], [2], [6]])


def light(rows, columns, seed=0):
    """A ramp from black with an edge, stripes and lamps, in colours, with noise."""
    rng = np.random.default_rng(seed)
    x, y = np.arange(columns), np.arange(rows)[:, None]
    level = 0.2 * x / max(columns, 9) + 0.1 * (y > rows / 2) + 0.05 * (x % 6 < 3) * (y % 20 < 9)
    shot = level * np.array([1.2, 1.0, 0.7])[:, None, None]
    shot[:, 6::15, 8::15] += np.array([0.4, 0.1, 0.2])[:, None, None]
    return np.float32(shot + rng.normal(size=shot.shape) * np.sqrt(PHOTON * shot + READ))


def guide(rows, columns, seed=1):
    rng = np.random.default_rng(seed)
    changes = rng.normal(0, 0.5, (2, rows, columns))
    shown = rng.uniform(0, 2 / np.sqrt(PHOTON), (1, rows, columns))
    return np.concatenate([changes, shown]).astype(np.float32)


def stabilised(own):
    photon, read = float(PHOTON), float(READ)
    return 2 * own / (np.sqrt(photon * np.maximum(own, 0) + read) + np.sqrt(read))


def restored(value, bias):
    bent = np.maximum(value, 0) ** 2 / 4 + bias * np.clip(0.5 + value / 4, 0, 1)
    return np.sqrt(float(READ)) * value + float(PHOTON) * bent


def halved(plane, down, over):
    """Means of blocks of 2x2 of the frame, the outermost pixels repeated."""
    rows, columns = plane.shape
    more = (down, (rows + down) % 2), (over, (columns + over) % 2)
    padded = np.pad(plane, more, mode="edge")
    return padded.reshape(padded.shape[0] // 2, 2, -1, 2).mean((1, 3))


def diagonal(plane, down, over):
    """Energy of the diagonal of blocks, of which nothing is known where they are cut."""
    more = (down, (plane.shape[0] + down) % 2), (over, (plane.shape[1] + over) % 2)
    padded = np.pad(plane, more, mode="edge")
    blocks = padded.reshape(padded.shape[0] // 2, 2, -1, 2)
    return np.square(np.einsum("yaxb,a,b->yx", blocks, [1, -1], [1, -1]) / 2)


def enlarged(plane, down, over, shape):
    for axis in (0, 1):
        padded = np.pad(plane, [(1, 1) if k == axis else (0, 0) for k in (0, 1)], mode="edge")
        padded = np.moveaxis(padded, axis, 0)
        both = np.stack([padded[1:-1] * 3 + padded[:-2], padded[1:-1] * 3 + padded[2:]], 1) / 4
        plane = np.moveaxis(both.reshape(-1, *both.shape[2:]), 0, axis)
    return plane[down : down + shape[0], over : over + shape[1]]


def mean(plane):
    return uniform_filter(plane, 3, mode="nearest")


def side_by_side(planes, first):
    """Each plane shrunk, by the blocks of the frame at half size."""
    return [shrunk(np.float32(each), COLOUR_LIMITS, *first).astype(float) for each in planes]


def about(excess, odd=(0, 0)):
    """With more about it, as `stood_out` and `risen` take it for a tile that begins there."""
    more = ((1 + a, 40) for a in odd)
    return np.pad(excess, tuple(more))


def twin(rgb, planes, top=0, left=0):
    down, over, shape = top % 2, left % 2, rgb.shape[1:]
    noisy = np.tensordot(AXES, stabilised(np.tensordot(OWN.astype(float), rgb, 1)), 1)
    values = np.float32(noisy[0])
    excess = np.float32(exceeding(noisy, SITES, PHOTON, np.sqrt(READ), top, left))
    pilot = stood_out(values, LIMITS, top, left, RISES, about(excess))
    clean = risen(
        values, pilot, SPECTRA[0], RISES, about(excess, (-down, -over)), top + 1, left + 1
    )
    half = halved(pilot.astype(float), down, over)
    halves = (np.float32(each) for each in (halved(noisy[0], down, over), half))
    coarse = refined(*halves, SPECTRA[1], top // 2, left // 2)
    clean = clean + enlarged(coarse - halved(clean.astype(float), down, over), down, over, shape)
    level, spread = mean(half), np.maximum(mean(half**2) - mean(half) ** 2, 0)
    slopes, led, away = [], [], []
    for k in (0, 1):
        colour = halved(noisy[1 + k] + planes[k], down, over)
        slope = (mean(colour * half) - level * mean(colour)) / (spread + float(EVEN))
        slopes.append(mean(slope))
        led.append(slopes[k] * half + mean(mean(colour) - slope * level))
        away.append(colour - led[k])
    energy = mean(np.square(away[0]) / BESIDE[0] + np.square(away[1]) / BESIDE[1])
    explained = (slopes[0] ** 2 / BESIDE[0] + slopes[1] ** 2 / BESIDE[1]) * spread
    told = explained / (explained + energy + float(NEVER))
    least = float(APART) + float(FALSE) * mean(diagonal(pilot.astype(float), down, over))
    apart = np.clip((energy / least - 1) / float(FADE), 0, 1)
    flat = []
    scaled = [(led[k] + apart * away[k]) / COLOURS[k] for k in (0, 1)]
    points = lamps(noisy[0], LIMITS[1, 1] / (3 * LIMIT))
    lit = halved(points, down, over)
    for k, quiet in enumerate(side_by_side(scaled, (top // 2, left // 2))):
        slope = told * slopes[k]
        rest = COLOURS[k] * (quiet + lit * (scaled[k] - quiet)) - slope * half
        slope, offset = (enlarged(each, down, over, shape) for each in (slope, rest))
        flat.append(slope * clean + offset)
    away = noisy[1:] + planes[:2] - flat
    share = np.maximum(KEPT[0], enlarged(apart, down, over, shape))
    found = flat + share * away - KEPT[1] * planes[:2]
    level = np.maximum(restored(clean / np.sqrt(3), 0), np.sqrt(float(READ)))
    seen = planes[2] * np.sqrt(float(PHOTON) * level + float(READ)) / np.cbrt(level) ** 2
    left_over, rest = np.minimum(1 / seen, 1), noisy[0] - clean
    core = np.clip(np.abs(rest) * LIMIT / LIMITS[1, 1] - float(CORE), 0, 1)
    lit = points * (mean(rest) + core * (rest - mean(rest)))
    own = clean + left_over * rest + (1 - left_over) * lit
    own = np.tensordot(np.linalg.inv(AXES), [own, *found], 1)
    bias = BIAS[0] * (1 - left_over**2) + BIAS[1:, None, None]
    return np.tensordot(LIGHT.astype(float), restored(own, bias), 1)


def reduced(rgb, planes, top=0, left=0, wanted=None):
    wanted = wanted or (0, rgb.shape[1], 0, rgb.shape[2])
    return reduce_noise(rgb, planes, top, left, wanted, *TOLD)


@pytest.mark.parametrize("place", [(0, 0), (4, 7), (3, 0), (11, 5)])
@pytest.mark.parametrize("shape", [(40, 61), (33, 50)])
def test_agrees_with_a_plain_twin(shape, place):
    """But where rounding decides whether a frequency counts, which is in few places."""
    rgb, planes = light(*shape), guide(*shape)
    near = np.abs(reduced(rgb, planes, *place) - twin(rgb, planes, *place)) < 5e-5
    assert near.mean() > 0.98


@pytest.mark.parametrize("shape", [s for s in ODD_SHAPES if s[0] * s[1] < 300])
def test_nothing_beyond_odd_shapes_is_read(shape):
    rgb, planes = light(*shape), guide(*shape)
    for place in (0, 0), (1, 1):
        ours, *kept = guarded(lambda *a, at=place: reduced(*a, *at), rgb, planes)
        np.testing.assert_array_equal(kept[0], rgb)
        assert np.isfinite(ours).all()


def test_a_part_within_its_reach_has_the_same_bits():
    """Wherever it begins."""
    rgb, planes = light(150, 170), guide(150, 170)
    whole = reduced(rgb, planes)
    for top, left in (5, 11), (10, 7), (20, 22):
        part = np.s_[:, top : top + 101, left : left + 120]
        ours = reduced(*(np.ascontiguousarray(each[part]) for each in (rgb, planes)), top, left)
        inside = np.s_[:, REACH:-REACH, REACH:-REACH]
        np.testing.assert_array_equal(ours[inside], whole[part][inside])


@pytest.mark.parametrize("place", [(0, 0), (3, 5)])
@pytest.mark.parametrize(
    "wanted", [(0, 90, 0, 110), (27, 63, 28, 60), (28, 62, 0, 83), (40, 41, 35, 70), (2, 90, 1, 2)]
)
def test_what_is_wanted_alone_has_the_same_bits(wanted, place):
    """Computed of all that there is, or of what is within reach."""
    rgb, planes = light(90, 110), guide(90, 110)
    top, bottom, left, right = wanted
    expected = reduced(rgb, planes, *place)[:, top:bottom, left:right]
    np.testing.assert_array_equal(reduced(rgb, planes, *place, wanted), expected)
    here = Region(*wanted).grown(REACH, Region.whole(90, 110))
    part = (here.cut(each, Region.whole(90, 110)) for each in (rgb, planes))
    inside = top - here.top, bottom - here.top, left - here.left, right - here.left
    begin = place[0] + here.top, place[1] + here.left
    np.testing.assert_array_equal(reduced(*part, *begin, inside), expected)


def test_nothing_changes_where_all_is_kept():
    rgb, planes = light(40, 50), guide(40, 50)
    planes[2] = 0
    told = *TOLD[:-2], np.zeros(4, np.float32), np.ones(2, np.float32)
    ours = reduce_noise(rgb, planes, 0, 0, (0, 40, 0, 50), *told)
    np.testing.assert_allclose(ours, rgb, atol=2e-6)


def test_changes_of_coarse_colours_are_those_of_the_clean_planes():
    noisy, clean = light(12, 20), light(12, 20, 5)
    ours = coarse_changes(noisy, clean, OWN, np.eye(3, dtype=np.float32), PHOTON, READ)
    before = np.tensordot(AXES, stabilised(np.tensordot(OWN.astype(float), noisy, 1)), 1)
    after = np.tensordot(AXES, stabilised(clean.astype(float)), 1)
    np.testing.assert_allclose(ours, (after - before)[1:], atol=2e-4)
