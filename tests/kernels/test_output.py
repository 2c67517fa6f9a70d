"""From Oklab to codes: gamut, transfer curve and dither."""

import numpy as np
import pytest
from scipy import stats

from cut_pieces import PIECES, cuts
from grading import kernels
from grading.colour import oklab, spaces, transfer
from grading.colour.gamut import gamut
from kernels.guards import ODD_SHAPES, guarded
from truth.gamut import PRIMARIES

CODES = {8: 255, 16: 65535}
SIZE = (17, 4200)
"""Rows and columns of a picture of which odd shapes are the corner."""


def convert(lab, space="srgb", bits=16, y0=0, x0=0, dither=False):
    """Codes, counts of the ends and count of what lay outside."""
    curve = transfer.coefficients(spaces.SPACES[space].transfer)
    lab = np.asarray(lab, np.float32)
    _, rows, columns = lab.shape
    picture = np.zeros((y0 + rows, x0 + columns, 3), np.uint8 if bits == 8 else np.uint16)
    counts = kernels.output.to_codes(lab, gamut(space), curve, picture, y0, x0, dither)
    return picture[y0:, x0:], *counts


def to_codes(lab, *args, **kwargs):
    return convert(lab, *args, **kwargs)[0]


def row(colours):
    """Colours (n, 3) as a picture of one row."""
    return np.ascontiguousarray(np.asarray(colours, np.float64).T[:, None], np.float32)


def oklab_of(linear, space):
    """Oklab of linear light of a space, (n, 3)."""
    return oklab.xyz_to_oklab(np.asarray(linear) @ spaces.rgb_to_xyz(spaces.SPACES[space]).T)


def oklab_of_codes(codes, space="srgb"):
    top = np.iinfo(codes.dtype).max
    return oklab_of(transfer.decode(spaces.SPACES[space].transfer, codes / top), space)


def encoded(linear, bits=16):
    """Codes of linear sRGB greys."""
    grey = row(oklab_of(np.repeat(np.atleast_1d(linear)[:, None], 3, axis=1), "srgb"))
    return to_codes(grey, bits=bits)[0, :, 1]


def test_srgb_codes_of_the_standard():
    """IEC 61966-2-1: 12.92 x up to 0.0031308 (code 0.04045), else 1.055 x^(1/2.4) - 0.055."""
    assert abs(encoded(0.0031308)[0] / 65535 - 0.04045) < 1.5 / 65535
    assert abs(encoded(0.18)[0] / 65535 - 0.4613561) < 1.5 / 65535
    assert abs(encoded(0.2140411)[0] / 65535 - 0.5) < 1.5 / 65535
    assert encoded(0.2158605, bits=8)[0] == 128


@pytest.mark.parametrize("space", ["srgb", "display-p3", "bt2020"])
def test_colours_inside_the_gamut_are_left_alone(space):
    linear = np.random.default_rng(0).random((20_000, 3)) ** 3
    codes, _, outside = convert(row(oklab_of(linear, space)), space)
    exact = 65535 * transfer.encode(spaces.SPACES[space].transfer, linear)
    assert outside == 0
    assert np.abs(codes[0] - exact).max() <= 1.5


def wide_colours(count=20_000):
    """Colours of BT.2020 light that are clearly not to be had in sRGB."""
    linear = np.random.default_rng(1).random((count, 3)) ** 2
    srgb = linear @ spaces.rgb_to_rgb(spaces.WORKING, spaces.SPACES["srgb"]).T
    far = (srgb.min(axis=1) < -0.005) | (srgb.max(axis=1) > 1.005)
    return oklab.working_to_oklab(linear[far])


def test_lightness_and_hue_are_kept():
    lab = wide_colours()
    lab = lab[lab[:, 0] < 0.98]
    codes, _, outside = convert(row(lab))
    mapped = oklab_of_codes(codes[0])
    assert outside == len(lab)
    assert np.abs(mapped[:, 0] - lab[:, 0]).max() < 1e-3
    turn = (oklab.hue(mapped) - oklab.hue(lab) + 180) % 360 - 180
    chroma = np.hypot(mapped[:, 1], mapped[:, 2])
    assert np.abs(np.radians(turn) * chroma).max() < 3e-3
    assert np.abs(turn[chroma > 0.03]).max() < 1


def test_no_more_chroma_is_given_up_than_must_be():
    lab = wide_colours(4000)
    mapped = oklab_of_codes(to_codes(row(lab))[0])
    more = mapped * [1, 1.01, 1.01]
    linear = oklab.oklab_to_xyz(more) @ spaces.xyz_to_rgb(spaces.SPACES["srgb"]).T
    beyond = (linear.min(axis=1) < 0) | (linear.max(axis=1) > 1)
    assert beyond[lab[:, 0] < 0.98].all()


@pytest.mark.parametrize("name", PRIMARIES)
def test_corners_of_display_p3_against_css_color_4(name):
    """The W3C's method ends with a clip of up to one just noticeable difference (0.02 in Oklab),
    which moves lightness by up to 0.019 and hue by up to 2.4 degrees here, and so keeps more
    chroma: up to 0.039 more. Ours keeps lightness and hue, and lies 0.002 to 0.042 away."""
    p3, percent = PRIMARIES[name]
    lab = oklab_of([p3], "display-p3")
    mapped = oklab_of_codes(to_codes(row(lab))[0])
    theirs = oklab_of(transfer.decode("srgb", np.array([percent]) / 100), "srgb")
    assert abs(mapped[0, 0] - lab[0, 0]) < 1e-3
    assert abs((oklab.hue(mapped) - oklab.hue(lab) + 180) % 360 - 180)[0] < 0.5
    assert np.abs(theirs - lab)[0, 0] < 0.02
    assert -0.04 < np.hypot(*mapped[0, 1:]) - np.hypot(*theirs[0, 1:]) < 0
    assert np.linalg.norm(mapped - theirs) < 0.045


@pytest.mark.parametrize("bits", CODES)
@pytest.mark.parametrize("dither", [False, True])
def test_beyond_white_and_black_there_is_only_white_and_black(bits, dither):
    a, b = np.random.default_rng(2).uniform(-0.2, 0.2, (2, 500))
    light = np.stack([np.linspace(1, 3, 500), a, b], axis=1)
    dark = np.stack([np.linspace(0, -1, 500), a, b], axis=1)
    assert (to_codes(row(light), bits=bits, dither=dither) == CODES[bits]).all()
    assert (to_codes(row(dark), bits=bits, dither=dither) == 0).all()


def test_what_is_no_number_becomes_black():
    lab = np.full((3, 3, 5), 0.5, np.float32)
    lab[1:] = 0
    good = to_codes(lab)
    lab[:, 1, 2] = np.nan
    bad = to_codes(lab)
    assert (bad[1, 2] == 0).all()
    good[1, 2] = 0
    np.testing.assert_array_equal(bad, good)


@pytest.mark.parametrize("bits", CODES)
def test_nothing_beyond_odd_shapes_is_touched(bits):
    """The codes are those of a picture that is much larger on every side."""
    rng, curve, kind = np.random.default_rng(5), transfer.coefficients("srgb"), f"u{bits // 8}"
    lab = np.float32([rng.uniform(-0.1, 1.1, SIZE), *rng.uniform(-0.3, 0.3, (2, *SIZE))])
    light = np.float32(rng.uniform(-0.1, 1.1, (3, *SIZE)))

    def convert_all(lab, codes):
        kernels.output.to_codes(lab, gamut("srgb"), curve, codes, 0, 0, True)

    def encode_all(light, codes):
        kernels.output.encode(light, curve, codes, 0, 0, True)

    for work, planes in ((convert_all, lab), (encode_all, light)):
        whole = np.empty((*SIZE, 3), kind)
        work(planes, whole)
        for rows, columns in ODD_SHAPES:
            tile = np.ascontiguousarray(planes[:, :rows, :columns])
            _, codes = guarded(work, tile, np.empty((rows, columns, 3), kind))
            np.testing.assert_array_equal(codes, whole[:rows, :columns])


@pytest.mark.parametrize("bits", CODES)
@pytest.mark.parametrize("pieces", PIECES)
def test_pieces_agree_bit_for_bit(bits, pieces):
    rng = np.random.default_rng(3)
    lab = np.stack([rng.uniform(0, 1.1, (33, 65)), *rng.uniform(-0.3, 0.3, (2, 33, 65))])
    whole, ends, outside = convert(lab, bits=bits, dither=True)
    counts = []
    for y0, y1, x0, x1 in cuts(33, 65, pieces):
        piece = np.ascontiguousarray(lab[:, y0:y1, x0:x1])
        part, *count = convert(piece, bits=bits, y0=y0, x0=x0, dither=True)
        np.testing.assert_array_equal(part, whole[y0:y1, x0:x1])
        counts.append(count)
    np.testing.assert_array_equal(sum(count[0] for count in counts), ends)
    assert sum(count[1] for count in counts) == outside > 0


def test_counts_what_lay_outside_but_not_beyond_black_and_white():
    colours = [[0.5, 0, 0], [0.5, 0.4, 0], [1.2, 0, 0], [-0.1, 0, 0], [0.7, 0.02, 0.01]]
    assert convert(row(colours))[2] == 1


LEVELS = np.array([40.0, 40.25, 40.5, 127.83, 200.1])
"""Ideal 8-bit codes that are away from the ends."""


@pytest.fixture(scope="module")
def dithered():
    """Errors in codes of 500 x 500 flat pixels at each of `LEVELS`, before rounding to 8 bits."""
    errors = []
    for level in LEVELS:
        linear = transfer.decode("srgb", level / 255)
        lightness = np.cbrt(linear)
        lab = np.zeros((3, 500, 500), np.float32)
        lab[0] = lightness
        errors.append(to_codes(lab, bits=8, dither=True) - level)
    return np.array(errors)


def test_dither_leaves_the_mean(dithered):
    # standard error of the mean of 250 000 errors of variance 1/4: 0.001
    np.testing.assert_allclose(dithered.mean(axis=(1, 2)), 0, atol=0.005)


def test_error_has_the_same_variance_at_every_level(dithered):
    """Lipshitz, Wannamaker and Vanderkooy (1992): with triangular dither of one code the total
    error has a variance of 1/4, whatever the signal."""
    np.testing.assert_allclose(dithered.var(axis=(1, 2)), 0.25, atol=0.004)


def test_error_is_not_alike_in_neighbours_or_channels(dithered):
    error = dithered[0] - dithered[0].mean(axis=(0, 1))
    for other in (
        error[1:] * error[:-1],
        error[:, 1:] * error[:, :-1],
        error[..., 1:] * error[..., :-1],
        error[2:, :-2] * error[:-2, 2:],
    ):
        assert abs(other.mean()) < 0.25 * 0.01


def test_dither_has_no_line_in_its_spectrum(dithered):
    """The largest of n bins of white noise stays below ln n + 7 times the mean, but for e^-7."""
    error = dithered[3, ..., 1] - dithered[3, ..., 1].mean()
    power = np.abs(np.fft.rfft2(error)) ** 2
    power = power[1:, 1:-1].ravel()
    assert power.max() / power.mean() < np.log(power.size) + 7


def test_noise_before_rounding_is_triangular(dithered):
    """At a whole code, triangular noise of one code rounds to -1, 0, 1 as 1/8, 3/4, 1/8."""
    counts = [np.sum(np.round(dithered[0]) == step) for step in (-1, 0, 1)]
    assert sum(counts) == dithered[0].size
    expected = np.array([1, 6, 1]) / 8 * dithered[0].size
    assert stats.chisquare(counts, expected).pvalue > 1e-4


def test_gradient_has_no_flat_run_longer_than_its_own_step():
    """Gate 7 of a band-free sky: without dither a code runs for 100 pixels here."""
    columns = 4000
    codes = np.linspace(100, 140, columns)
    lab = np.zeros((3, 8, columns), np.float32)
    lab[0] = np.cbrt(transfer.decode("srgb", codes / 255))
    plain = to_codes(lab, bits=8)[..., 1]
    dither = to_codes(lab, bits=8, dither=True)[..., 1]
    assert longest_run(plain) >= 99
    assert longest_run(dither) < 100
    smooth = dither.mean(axis=0) - codes
    assert np.abs(np.convolve(smooth, np.ones(100) / 100, "valid")).max() < 0.1


def longest_run(rows):
    longest = 0
    for line in rows:
        ends = np.flatnonzero(np.diff(line.astype(int)) != 0)
        longest = max(longest, np.diff(np.concatenate([[-1], ends, [line.size - 1]])).max())
    return longest


@pytest.mark.parametrize("dither", [False, True])
@pytest.mark.parametrize("bits", CODES)
def test_counts_of_the_ends(bits, dither):
    rng = np.random.default_rng(8)
    lab = np.stack([rng.uniform(-0.05, 1.05, (40, 50)), *rng.normal(0, 0.1, (2, 40, 50))])
    codes, ends, _ = convert(lab, bits=bits, dither=dither)
    exact = [(codes == end).sum(axis=(0, 1)) for end in (0, CODES[bits])]
    np.testing.assert_array_equal(ends, exact)


def test_pieces_brought_into_the_gamut_are_parts_of_the_whole():
    lab = np.random.default_rng(8).uniform(-0.3, 1.2, (3, 37, 1100)).astype(np.float32)
    whole, outside = kernels.gamut.bring_into_gamut(lab, gamut("srgb"))
    assert 0 < outside < lab[0].size
    spans, light = np.array([[0, 900], [100, 1200], [7, 7]]), np.full((3, 20, 1200), np.nan, "f4")
    is_wanted = np.zeros((40, 1200), bool)
    for block, (first, last) in enumerate(spans):
        is_wanted[16 * block : 16 * block + 16, first:last] = True
    is_wanted = is_wanted[3:40, 5:1105]
    counts, made = np.zeros(2, int), np.full_like(lab, np.nan)
    for top, rows in ((0, 17), (17, 20)):
        for left, columns in ((0, 1), (1, 700), (701, 399)):
            tile = np.ascontiguousarray(lab[:, top : top + rows, left : left + columns])
            corner = top + 3, left + 5
            counts += kernels.gamut.add_light(tile, corner, spans, 16, gamut("srgb"), light)
        for y in range(top, top + rows):
            made[:, y] = light[:, (y + 3) % 20, 5:1105]
        light[:] = np.nan
    np.testing.assert_array_equal(made, np.where(is_wanted, whole, np.nan))
    assert 0 < counts[0] < outside and counts[1] == is_wanted.sum()
