"""Denoise: what is left of the noise, what becomes of the picture, and where nothing is done."""

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from frames_in_memory import facts, frame, recipe, signal, two_matrix_camera
from grading.colour import oklab
from grading.develop.mosaic import MosaicPixels
from grading.engine import execute
from grading.engine.descent import taken_through
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.frame import Frame, Noise
from grading.kernels.excess import BEFORE
from grading.kernels.noise import LIMIT
from grading.stages.denoise import STAGE, Denoise, quieting
from grading.stages.noise_seen import COARSE_SURE, COLOUR_LIMIT, COLOUR_SURE, DETAILS
from kernels.raws import sample, sensor
from kernels.test_excess import AXES
from kernels.test_excess import twin as exceeding

EXAMPLE = {"luminance": 0.6, "colour": 0.8}
ALONE = [{"luminance": 0.5}, {"colour": 0.5}]

NONE = {"denoise": {"luminance": 0.0, "colour": 0.0}}
FULL = {"denoise": {"colour": 1.0}}
GREY, DARK, SKY = (0.1, 0.1, 0.1), (0.01, 0.01, 0.01), (0.01, 0.016, 0.035)
CAMERA = two_matrix_camera()
WHITE, BLACK = 16383, 512


def noise_at(iso):
    """Of 52 000 electrons at white and ISO 100, 2.4 of reading, and 14 bits."""
    gain = iso / 100 / 52000
    return Noise(gain, (2.4 * gain) ** 2 + (1.6 / (WHITE - BLACK)) ** 2)


def to_working():
    """From the camera to working light, as shot."""
    original = frame(np.full((3, 4, 4), 0.1), CAMERA)
    return make_plan(resolve(recipe(), original), original).steps[0].constants.astype(float)


TO_WORKING = to_working()


def shot(light, iso, seed=4):
    """A raw frame of working light (3, rows, columns), at a speed or with a noise of its own."""
    rng, noise = np.random.default_rng(seed), iso if isinstance(iso, Noise) else noise_at(iso)
    mosaic = sample(np.tensordot(np.linalg.inv(TO_WORKING), light, 1))
    seen = mosaic + rng.normal(size=mosaic.shape) * np.sqrt(noise.variance(np.maximum(mosaic, 0)))
    counts = np.clip(np.rint(BLACK + seen * (WHITE - BLACK)), 0, WHITE).astype(np.uint16)
    levels = sensor(counts.shape, black=BLACK, white=WHITE, noise=tuple(noise))
    balance = np.float32(CAMERA.neutral[1] / CAMERA.neutral)
    pixels = MosaicPixels(counts, levels, balance, None, 1)
    return Frame(facts(light.shape[2], light.shape[1], CAMERA, noise), pixels)


def even(colour, rows=384, columns=1088):
    return np.full((3, rows, columns), 1.0) * np.reshape(colour, (3, 1, 1))


def graded(original, **keys):
    """Working light of a whole frame that nothing else has changed."""
    return of_resolved(original, resolve(recipe(**keys), original))


def of_resolved(original, resolved):
    plan = make_plan(resolved, original)
    lab = taken_through(plan, plan.frame)
    light = oklab.oklab_to_working(np.moveaxis(lab, 0, -1).astype(float))
    return np.moveaxis(light, -1, 0)


def luminance(light):
    return np.tensordot([0.2627, 0.6780, 0.0593], light, 1)


def deviation(plane, size=1):
    """Of means over size x size pixels, without the outermost 32."""
    plane = plane[32:-32, 32:-32]
    rows, columns = (n // size for n in plane.shape)
    cut = plane[: rows * size, : columns * size]
    return cut.reshape(rows, size, columns, size).mean((1, 3)).std()


def colour_noise(light, size=1):
    y = luminance(light)
    return np.hypot(deviation(light[0] - y, size), deviation(light[2] - y, size))


def test_nothing_stated_of_a_frame_without_a_noise_model_is_no_step():
    assert STAGE.prepare(Denoise(luminance=1.0, colour=1.0), signal()) is None
    for noise in None, Noise(0.0, 0.0):
        original = frame(even(GREY, 8, 8), CAMERA, noise)
        resolved = STAGE.resolve(Denoise(luminance=0.5), original)
        assert resolved == Denoise(luminance=0.0, colour=0.0)


def test_the_default_is_stated_in_numbers():
    noisy = frame(even(GREY, 8, 8), CAMERA, noise_at(3200))
    resolved = resolve(recipe(), noisy)
    stated = resolved.as_mapping()["denoise"]["colour"]
    assert stated == quieting(noise_at(3200)) and 0.7 < stated < 0.8
    assert resolve(recipe(denoise={"colour": stated}), noisy).digest == resolved.digest
    assert resolve(recipe(denoise={"colour": 0.3}), noisy).stages["denoise"].colour == 0.3


def test_a_quiet_frame_is_left_alone_and_the_share_rises_evenly_from_there():
    shares = [quieting(noise_at(100 * 2 ** (n / 6))) for n in range(-12, 43)]
    assert shares[12] == 0 and shares[14] > 0
    steps = np.diff(shares)
    assert 0 <= steps.min() and steps.max() < 0.06


def test_colour_noise_rises_with_the_speed_and_never_falls():
    """Third stops about where the reduction sets in, and on; within 1 %, as the sample allows."""
    left = [
        colour_noise(graded(shot(even((0.18,) * 3), 100 * 2 ** (n / 3)))) for n in range(-1, 12)
    ]
    assert (np.diff(left) / left[:-1] > -0.01).all()
    assert left[-1] > 1.05 * left[2]


@pytest.mark.parametrize("colour", [GREY, DARK, SKY])
@pytest.mark.parametrize("iso", [800, 12800])
def test_colour_noise_goes_at_every_scale(colour, iso):
    """By default a third of it at most is left of 8 and of 32 pixels, where blotches are."""
    original = shot(even(colour), iso)
    before, after = graded(original, **NONE), graded(original)
    for size in (8, 32):
        assert colour_noise(after, size) < 0.35 * colour_noise(before, size)
    assert colour_noise(after) < 0.6 * colour_noise(before)


@pytest.mark.parametrize("colour", [GREY, DARK, SKY])
def test_luminance_keeps_its_grain_and_all_channels_their_means(colour):
    original = shot(even(colour), 3200)
    before, after = graded(original, **NONE), graded(original, **FULL)
    assert deviation(luminance(after)) == pytest.approx(deviation(luminance(before)), rel=0.03)
    np.testing.assert_allclose(after.mean((1, 2)), colour, rtol=0.012)


@pytest.mark.parametrize("colour", [GREY, DARK, SKY])
def test_luminance_loses_its_noise_by_the_share_that_is_stated(colour):
    original = shot(even(colour, 256, 512), 3200)
    before = graded(original, **FULL)
    for share in (0.5, 1.0):
        after = graded(original, denoise={"colour": 1.0, "luminance": share})
        left = deviation(luminance(after)) / deviation(luminance(before))
        assert left == pytest.approx(1 - share, abs=0.2)
        np.testing.assert_allclose(after.mean((1, 2)), colour, rtol=0.012)


def test_faint_texture_of_colour_alone_is_kept_in_part():
    """Red against blue at an even green; without what its place tells, a fifth of it is kept."""
    grain = gaussian_filter(np.random.default_rng(7).normal(size=(256, 384)), 1.5)
    texture = 0.05 * grain / grain.std() * np.reshape([1, 0, -1], (3, 1, 1))
    light = 0.2 * np.exp(texture)
    quiet = graded(shot(light, 1600), denoise={"luminance": 1.0, "colour": 1.0})
    ours, true = ((each[0] - each[2])[40:-40, 40:-40] for each in (quiet, light))
    assert (ours * true).mean() / (true * true).mean() > 0.3



LEVELS = 0.004, 0.015, 0.06, 0.2, 0.6
LIFTED = {"lift": {"shadows": 2.0}, "tone_curve": {"contrast": 1.2, "shoulder": 0.5, "white": 3.5}}


def lightness_noise(original, share, **keys):
    """Deviation of CIE L* of each of the `LEVELS`."""
    plan = make_plan(
        resolve(recipe(denoise={"luminance": share, "colour": 1.0}, **keys), original), original
    )
    root = taken_through(plan, plan.frame)[0].astype(float)
    shown = np.where(root > 6 / 29, 116 * root - 16, 24389 / 27 * root**3)
    return np.array([part[40:-40, 40:-40].std() for part in np.split(shown, len(LEVELS), axis=1)])


@pytest.mark.parametrize("keys", [{}, LIFTED, {"exposure": {"stops": 1.5}}])
def test_what_is_left_of_the_luminances_noise_is_even_over_tones(keys):
    """Three quarters gone, the loudest has at most 1.8 times the noise of the quietest that had
    more than that; lifted shadows had 3 times and more."""
    original = shot(np.concatenate([even((v,) * 3, 320, 256) for v in LEVELS], 2), 1600)
    before, after = (lightness_noise(original, share, **keys) for share in (0.0, 0.75))
    assert 0.15 < after.mean() / before.mean() < 0.4
    seen = before > after.max()
    assert seen.sum() >= 3
    assert after[seen].max() < 1.8 * after[seen].min()
    if keys is LIFTED:
        assert before.max() > 3 * before.min()


def test_the_share_follows_a_local_adjustment():
    """A half that is raised by two stops ends about as quiet as the other, from the same light."""
    where = {"gradient": {"full": [0.5, 0.0], "none": [0.52, 0.0]}}
    local = {"raised": {"where": where, "exposure": {"stops": 2.0}}}
    original = shot(even((0.02,) * 3, 256, 640), 1600)

    def noise(share):
        keys = {"denoise": {"luminance": share, "colour": 1.0}, "local": local}
        plan = make_plan(resolve(recipe(**keys), original), original)
        shown = 116 * taken_through(plan, plan.frame)[0]
        return shown[32:-32, 32:280].std(), shown[32:-32, 370:-32].std()

    raised, other = noise(0.0)
    assert raised > 1.35 * other
    raised, other = noise(0.6)
    assert raised == pytest.approx(other, rel=0.15)


def test_a_picture_that_shows_nothing_is_finite():
    original = shot(even((0.01,) * 3, 96, 128), 1600)
    for stops in (-10.0, 10.0):
        light = graded(original, denoise={"luminance": 0.5}, exposure={"stops": stops})
        assert np.isfinite(light).all()


def denoising(original, **keys):
    steps = make_plan(resolve(recipe(denoise=keys), original), original).steps
    return next(step.constants for step in steps if step.stage is STAGE)


def test_what_the_kernel_of_colours_is_told_of_noise_is_what_demosaicing_makes():
    """Details of colour, on a grey. The tables were made with another camera's colours."""
    original = shot(even(GREY, 512, 1024), 3200)
    constants = denoising(original, colour=1.0)
    planes = np.tensordot(constants.coarse.forward, graded(original, **NONE), 1)[:, 8:-8, 8:-8]
    assert details(planes[1:]) == pytest.approx(
        np.array(DETAILS) * (constants.noise @ [1, *planes.mean((1, 2))]), rel=0.2
    )


def test_what_the_kernel_of_both_is_told_of_noise_is_what_demosaicing_makes():
    """Spectra of luminance and of the two colours at half size, and the channels' variances."""
    original = shot(even(GREY, 1040, 1040), 3200)
    told = denoising(original, luminance=1.0, colour=1.0)
    own = np.tensordot(told.own.astype(float), graded(original, **NONE), 1)[:, 8:-8, 8:-8]
    own /= np.sqrt(told.photon * GREY[1] + told.read)
    variances = 4 * (told.bias[0] + told.bias[1:])
    assert own.var((1, 2)) == pytest.approx(variances, rel=0.15)
    luminance = np.sqrt(3) / 4 * (own.sum(0) + own[1])
    ours = told.limits / LIMIT
    np.testing.assert_allclose(waves(luminance).ravel()[1:], ours.ravel()[1:], rtol=0.12)
    found = waves(luminance.reshape(512, 2, 512, 2).mean((1, 3)))
    ours = np.sqrt(told.spectra[1] / COARSE_SURE)
    np.testing.assert_allclose(found.ravel()[1:], ours.ravel()[1:], rtol=0.12)
    half = own.reshape(3, 512, 2, 512, 2).mean((2, 4))
    for k, colour in enumerate([[1, 0, -1], [1, -2, 1]]):
        plane, deviation = np.tensordot(colour, half, 1) / np.linalg.norm(colour), told.colours[k]
        beside = (plane - thirds(thirds(plane))).var()
        assert beside == pytest.approx(told.beside[k], rel=0.15)
        found = waves(thirds(thirds(plane)))[:4, :4] / deviation
        ours = told.colour_limits[:4, :4] / COLOUR_LIMIT
        np.testing.assert_allclose(found.ravel()[1:], ours.ravel()[1:], rtol=0.15)
        found = waves(plane)[:4, :4] / deviation
        ours = np.sqrt(told.colour_spectrum[:4, :4] / COLOUR_SURE)
        np.testing.assert_allclose(found.ravel()[1:], ours.ravel()[1:], rtol=0.15)


@pytest.mark.parametrize("colour", [(0.15, 0.05, 0.02), (0.2, 0.03, 0.02), (0.03, 0.05, 0.2)])
def test_colours_have_as_much_more_noise_of_luminance_as_is_foretold(colour):
    """By frequency. A grey's would be 10 to 40 % too little for these."""
    original = shot(even(colour, 528, 1040), 800)
    told = denoising(original, luminance=1.0, colour=1.0)
    own = np.tensordot(told.own.astype(float), graded(original, **NONE), 1)[:, 8:-8, 8:-8]
    root = np.sqrt(told.read)
    stable = 2 * own / (np.sqrt(told.photon * np.maximum(own, 0) + told.read) + root)
    planes = np.tensordot(AXES, stable, 1)
    excess = exceeding(planes, told.sites, told.photon, root)[BEFORE:-BEFORE, BEFORE:-BEFORE].mean()
    assert excess > 0.15
    foretold = told.limits / LIMIT * np.sqrt(1 + excess * told.rises)
    np.testing.assert_allclose(waves(planes[0]).ravel()[1:], foretold.ravel()[1:], rtol=0.12)


def waves(plane):
    """Deviations of the frequencies of blocks of 8x8."""
    rows, columns = (n // 8 for n in plane.shape)
    blocks = plane[: rows * 8, : columns * 8].reshape(rows, 8, columns, 8).transpose(0, 2, 1, 3)
    return (cosines() @ blocks @ cosines().T).std((0, 1))


def thirds(plane):
    """Means of 3x3."""
    for axis in (0, 1):
        plane = (np.roll(plane, 1, axis) + plane + np.roll(plane, -1, axis)) / 3
    return plane


def cosines():
    """Matrix of the cosine transform of 8 values."""
    k, x = np.arange(8)[:, None], np.arange(8)
    waves = np.cos(np.pi * k * (2 * x + 1) / 16) / 2
    waves[0] /= np.sqrt(2)
    return waves


def details(planes):
    """Variance of the pixels less their 3x3 means, of these less wider ones, and of the last."""

    def mean(planes, far):
        for axis in (1, 2):
            planes = (np.roll(planes, far, axis) + np.roll(planes, -far, axis)) / 4 + planes / 2
        return planes

    near = mean(planes, 1)
    middle = mean(near, 2)
    return [
        each[:, 8:-8, 8:-8].var((1, 2)).mean() for each in (planes - near, near - middle, middle)
    ]


PAIRS = [((0.2, 0.03, 0.02), (0.04, 0.15, 0.03)), ((0.02, 0.03, 0.2), (0.2, 0.08, 0.01))]


@pytest.mark.parametrize("pair", PAIRS)
@pytest.mark.parametrize("iso", [800, 3200, 12800])
def test_no_colour_runs_over_an_edge(pair, iso):
    """Within 4 pixels of a slanted one, the error of colour is 5 % above unreduced at most."""
    y, x = np.indices((200, 1200))
    from_edge = x % 200 - 100 - y / 50
    first, second = (np.reshape(colour, (3, 1, 1)) for colour in pair)
    truth = np.where((from_edge > 0) & (x % 200 < 190), first, second)
    near = np.abs(from_edge) < 4
    original = shot(truth, iso)

    def error(light):
        labs = (oklab.working_to_oklab(np.moveaxis(each, 0, -1)) for each in (light, truth))
        return np.sqrt(np.square(np.subtract(*labs)[near][:, 1:]).mean())

    before = error(graded(original, **NONE))
    assert error(graded(original)) < 1.05 * before
    both = error(graded(original, denoise={"luminance": 1.0, "colour": 1.0}))
    assert both < (1.1 if iso < 12800 else 1.6) * before


@pytest.mark.parametrize("pair", PAIRS)
def test_waves_of_colour_keep_their_contrast_where_all_noise_goes(pair):
    """Slanted ones, 23 pixels long: within 1.5 % of what they have with all noise."""
    y, x = np.indices((200, 400))
    share = (1 + np.sin(2 * np.pi * (x + 0.3 * y) / 24)) / 2
    first, second = (np.reshape(colour, (3, 1, 1)) for colour in pair)
    truth = first + share * (second - first)
    exact = oklab.working_to_oklab(np.moveaxis(truth, 0, -1))[..., 1:]
    original, exact = shot(truth, 800), exact - exact.mean((0, 1))

    def contrast(**keys):
        found = oklab.working_to_oklab(np.moveaxis(graded(original, **keys), 0, -1))[..., 1:]
        return (found * exact)[16:-16, 16:-16].sum()

    assert contrast(denoise={"luminance": 1.0, "colour": 1.0}) > 0.985 * contrast(**NONE)


@pytest.mark.parametrize("keys", [{}, FULL])
@pytest.mark.parametrize("tint", [(1, 1, 1), (1, 0.5, 0.15)])
def test_stars_keep_their_light(keys, tint):
    """Of 0.9 pixels' deviation, six times as high as the noise."""
    y, x = np.indices((200, 1200))
    places = np.square(y % 40 - 20.3) + np.square(x % 40 - 19.6)
    peak = 6 * np.sqrt(noise_at(3200).variance(0.01))
    star = peak * np.exp(-places / 1.62) * np.reshape(tint, (3, 1, 1))
    night = np.full_like(star, 0.01)
    with_stars, without = (graded(shot(each, 3200), **keys) for each in (night + star, night))
    assert 0.9 < luminance(with_stars - without).mean() / luminance(star).mean() < 1.1


@pytest.mark.parametrize("iso", [800, 3200])
@pytest.mark.parametrize("tint", [(1, 1, 1), (1, 0.5, 0.15)])
def test_small_lamps_keep_their_light_where_all_noise_goes(tint, iso):
    """Of 0.8 pixels' deviation, forty times as high as the noise."""
    y, x = np.indices((200, 1200))
    places = np.square(y % 40 - 20.3) + np.square(x % 40 - 19.6)
    peak = 40 * np.sqrt(noise_at(iso).variance(0.01))
    lamp = peak * np.exp(-places / 1.28) * np.reshape(tint, (3, 1, 1))
    night = np.full_like(lamp, 0.01)
    keys = {"denoise": {"luminance": 1.0, "colour": 1.0}}
    lit, dark = (graded(shot(each, iso), **keys) for each in (night + lamp, night))
    near = places < 49
    assert 0.9 < luminance(lit - dark)[near].sum() / luminance(lamp)[near].sum() < 1.1


def test_a_preview_has_less_of_the_noise_that_it_has():
    original = shot(even(GREY, 512, 2048), 12800)
    small = preview(original, 512)
    before, after = (of_resolved(small, resolve(recipe(**keys), original)) for keys in (NONE, FULL))
    assert colour_noise(after) < 0.25 * colour_noise(before)
    np.testing.assert_allclose(after.mean((1, 2)), GREY, rtol=0.01)


def test_tiles_and_threads_do_not_show(monkeypatch):
    rng = np.random.default_rng(2)
    light = np.kron(rng.uniform(0, 0.3, (3, 12, 20)), np.ones((1, 10, 10)))
    original, look = shot(light, 3200), recipe(denoise=EXAMPLE, lift={"shadows": 1.0})
    whole = render(original, look, Output("tiff"), workers=1)
    for tile in (7, 33), (64, 64):
        monkeypatch.setattr(execute, "TILE", tile)
        tiled = render(original, look, Output("tiff"), workers=2)
        np.testing.assert_array_equal(tiled.array, whole.array)


@pytest.mark.parametrize("noise", [Noise(0.0, 1e-5), Noise(1e-3, 0.0)])
def test_a_model_of_one_kind_of_noise_will_do(noise):
    light = even((0.05,) * 3, 200, 300)
    light[..., :100] = 0
    original = shot(light, noise)
    before, after = (
        graded(original, **NONE),
        graded(original, denoise={"colour": 1.0, "luminance": 1.0}),
    )
    assert np.isfinite(after).all()
    assert colour_noise(after[..., 100:]) < 0.4 * colour_noise(before[..., 100:])


def test_through_a_mask_it_reduces_noise_there_and_nowhere_else():
    """Nothing is stated for the whole frame, so the whole frame keeps its noise."""
    original = shot(even(GREY, 200, 400), 3200)
    left = {"gradient": {"full": [0.45, 0.5], "none": [0.55, 0.5]}}
    place = {"where": left, "denoise": {"luminance": 1.0, "colour": 1.0}}
    before = graded(original, **NONE)
    after = graded(original, **NONE, local={"left": place})
    np.testing.assert_array_equal(after[..., 230:], before[..., 230:])
    assert colour_noise(after[..., :170]) < 0.3 * colour_noise(before[..., :170])
    everywhere = graded(original, denoise={"luminance": 1.0, "colour": 1.0})
    np.testing.assert_array_equal(after[..., :170], everywhere[..., :170])
