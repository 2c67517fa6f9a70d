"""Luminance and colours without their noise, against a plain twin."""

import numpy as np
import pytest
from scipy.ndimage import uniform_filter

from grading.kernels import own_colours as own_way
from grading.kernels.guided import EVEN
from grading.kernels.lamps import CORE
from grading.kernels.noise import LIMIT, REACH, coarse_changes, reduce_noise
from grading.region import Region
from kernels.guards import ODD_SHAPES, guarded
from kernels.test_cosines import RISES, refined, risen
from kernels.test_excess import twin as exceeding
from kernels.test_lamps import twin as lamps
from kernels.test_piloted import piloted
from kernels.test_stand_out import stood_out
from kernels.test_texture import textured

OWN = np.float32([[1.2, -0.1, -0.1], [0.05, 0.9, 0.05], [-0.1, -0.2, 1.3]])
LIGHT = np.linalg.inv(OWN.astype(float)).astype(np.float32)
PHOTON, READ = np.float32(2e-3), np.float32(3e-5)
LIMITS = np.float32(2.9 * (1.5 - 0.1 * np.add.outer(np.arange(8), np.arange(8))))
COLOUR_LIMITS = np.float32(3 / (1 + np.add.outer(np.arange(8), np.arange(8))))
SPECTRA = np.float32([[[1.2]], [[0.5]]]) * np.square(LIMITS / np.float32(2.9))
COLOUR_LIMITS[0, 0] = 0
SITES = np.float32([0.25, 0.53, 0.22])
COLOUR_SPECTRUM = np.float32(1 / (1 + np.add.outer(np.arange(8), np.arange(8))))
COLOURS, KEPT = np.float32([1.1, 0.7]), np.float32([0.4, 0.1])
BESIDE = np.float32([0.14, 0.06])
BIAS = np.float32([0.15, 0.1, 0.05, 0.08])
OF_COLOURS = COLOUR_LIMITS, COLOUR_SPECTRUM, COLOURS, BESIDE
TOLD = OWN, LIGHT, PHOTON, READ, LIMITS, SPECTRA, RISES, SITES, *OF_COLOURS, BIAS, KEPT
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


def lines(guide, planes):
    """Of both planes in their guide: slopes, offsets, the guide's variance, energy beside them."""
    level, spread = mean(guide), np.maximum(mean(guide**2) - mean(guide) ** 2, 0)
    slopes, offsets, energy = [], [], 0
    for plane, noise in zip(planes, BESIDE, strict=True):
        slope = (mean(plane * guide) - level * mean(plane)) / (spread + float(EVEN))
        slopes.append(mean(slope))
        offsets.append(mean(mean(plane) - slope * level))
        energy = energy + np.square(plane - slopes[-1] * guide - offsets[-1]) / noise
    return slopes, offsets, spread, mean(energy)


def rising(values, least, most):
    return np.clip((values - least) / (most - least), 0, 1)


def clean_colours(planes, guide, coarse, diagonals, lit, excess, first):
    """Slopes of both colours at half size, the rest, and how surely they go their own way."""
    slopes, offsets, spread, away = lines(guide, planes)
    least = own_way.APART + own_way.FALSE * mean(diagonals)
    apart = rising(away, least, least * (1 + own_way.FADE))
    likely = own_way.LIKELY + own_way.DOUBT * mean(diagonals)
    stands_out = np.maximum(rising(away, likely, 2 * likely), apart)
    shown = np.maximum(stands_out, own_way.SHOWN * own_way.LIKELY / likely)
    led = [slope * guide + offset for slope, offset in zip(slopes, offsets, strict=True)]
    beside = [plane - line for plane, line in zip(planes, led, strict=True)]
    texture = textured(beside, spread, mean(diagonals), 1 - stands_out, excess, BESIDE, first)
    pilots = [line + apart * (plane - line) for line, plane in zip(led, planes, strict=True)]
    seen = [line + shown * (plane - line) for line, plane in zip(led, planes, strict=True)]
    quiet = [
        scale * piloted(np.float32(a / scale), np.float32(b / scale), *OF_COLOURS[:2], *first)
        for a, b, scale in zip(seen, pilots, COLOURS.astype(float), strict=True)
    ]
    slopes, offsets, spread, left = lines(guide, quiet)
    explained = (slopes[0] ** 2 / BESIDE[0] + slopes[1] ** 2 / BESIDE[1]) * spread
    told = explained / (explained + float(own_way.FOLLOWS) * away + float(own_way.NEVER))
    share, rest = rising(left, own_way.LEFT, own_way.FULLY), []
    for k in (0, 1):
        line = slopes[k] * guide + offsets[k]
        own = line + np.maximum(share, texture[k]) * (quiet[k] - line)
        own = own + float(own_way.BACK) * texture[k] * (planes[k] - quiet[k])
        rest.append(own + lit * (pilots[k] - own) - told * slopes[k] * coarse)
    return [told * slope for slope in slopes], rest, apart


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
    points = lamps(noisy[0], LIMITS[1, 1] / (3 * LIMIT))
    colours = [halved(noisy[1 + k] + planes[k], down, over) for k in (0, 1)]
    slopes, rest, apart = clean_colours(
        colours, half, coarse, diagonal(pilot.astype(float), down, over),
        halved(points, down, over), excess[1:, 1:][: half.shape[0], : half.shape[1]],
        (top // 2, left // 2),
    )  # fmt: skip
    flat = [
        enlarged(slope, down, over, shape) * clean + enlarged(offset, down, over, shape)
        for slope, offset in zip(slopes, rest, strict=True)
    ]
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
