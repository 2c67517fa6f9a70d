"""Framed pictures: exact in their geometry, faithful in their detail, the same for any tiling."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine import execute, sampling
from grading.engine.execute import render, render_each, render_outputs
from grading.engine.output import Output
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.engine.sampling import Turned
from grading.framing.framing import Framing, settled, view_of
from grading.framing.view import View
from grading.lens.optics import Warp
from grading.region import Region
from lens.warps import rectilinear

TURN = {"straighten": 3.0}
LEAN = {"straighten": -2.0, "keystone": {"vertical": 0.15, "horizontal": 0.05}}
HEIGHT, WIDTH = 300, 450


def view(width=WIDTH, height=HEIGHT, warp=None, **keys):
    return view_of(settled(Framing.model_validate(keys), width, height, warp), width, height, warp)


def turned(seen, light, size=None):
    """Planes of light seen through a view; only what is asked for of them is there."""
    width, height = size or seen.size
    work = Turned(seen, width, height, ahead=50)
    work.light[:] = np.nan
    out, top = np.empty((3, height, width), np.float32), work.needed.top
    for band in work.needed.tiles(50, work.needed.shape[1]):
        work.passing.wait_for_room(band.bottom - top)
        for y in range(band.top, band.bottom):
            first, last = work.spans[(y - top) // sampling.BLOCK]
            row = light[:, y, work.needed.left :]
            work.light[:, (y - top) % work.light.shape[1], first:last] = row[:, first:last]
        work.passing.came(band.top - top, band.bottom - top)
        for piece in work.passing.ready():
            out[:, piece.top : piece.bottom, piece.left : piece.right] = work.piece(piece)
    for piece in work.passing.rest():
        out[:, piece.top : piece.bottom, piece.left : piece.right] = work.piece(piece)
    return out


def planes(values):
    return np.repeat(values[None], 3, axis=0).astype(np.float32)


def places(seen, size=None):
    """Where in the frame each pixel lies, in pixels from the middle of the first."""
    width, height = size or seen.size
    v, u = np.mgrid[0:height, 0:width] + 0.5
    x, y = seen.pixels_to_frame(u * seen.size[0] / width, v * seen.size[1] / height)
    return x - 0.5, y - 0.5


def wave(x, y, cycles=0.15):
    return 0.5 + 0.4 * np.sin(2 * np.pi * cycles * (0.8 * x + 0.6 * y))


INSIDE = np.s_[8:-8, 8:-8]
VIEWS = {
    "a little": dict(straighten=0.4),
    "turned": dict(straighten=-11.0),
    "far": dict(straighten=40.0),
    "leaning": LEAN,
    "lens": dict(warp=rectilinear((1.0, -0.08, 0.02, 0.0), (0.001, 0.002))),
    "lens and turned": dict(straighten=2.0, warp=rectilinear((0.98, 0.05, 0.0, 0.0))),
}


@pytest.mark.parametrize("keys", VIEWS.values(), ids=VIEWS)
def test_a_wave_is_where_geometry_puts_it(keys):
    """The map of a wave is known exactly; an error of 0.1 pixels would come to 0.038.
    On a frame as small as this one a keystone bends places ten times as much as on a large one."""
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    seen = view(**keys)
    found, exact = turned(seen, planes(wave(x, y))), wave(*places(seen))
    assert np.abs(found[0] - exact)[INSIDE].max() < 0.03


def rows_off(seen, smaller):
    """How far nodes are from where the inverse map has them, which finds its places by steps of its
    own; in rows of the picture, of nodes within it."""
    step = sampling.kernels.lines.STEP
    work = Turned(seen, *(size // smaller for size in seen.size))
    v, x = np.mgrid[: work._down.shape[0], : work._down.shape[1]] * step
    x, y = x + work.needed.left, work._down + work.needed.top
    with np.errstate(all="ignore"):  # there may be no such place far beyond the picture
        u, found = seen.pixels_to_picture(x + 0.5, y + 0.5)
    (columns, rows), height = seen.size, work._size[0]
    is_seen = (u > 0) & (u < columns) & (v < height)
    assert is_seen.sum() > 10
    return np.abs(found * height / rows - 0.5 - v)[is_seen].max()


@pytest.mark.parametrize("keys", VIEWS.values(), ids=VIEWS)
@pytest.mark.parametrize("smaller", [1, 4])
def test_rows_meet_columns_where_the_inverse_map_says(keys, smaller):
    assert rows_off(view(**keys), smaller) < 1e-4


@pytest.mark.parametrize("smaller", [1, 4])
def test_a_lens_whose_map_turns_back_beyond_the_corners_misleads_nobody(smaller):
    warp = Warp((0.5, 0.5), 1.0, (1.0, *[0.0] * 5, -0.8))
    assert rows_off(view(straighten=3.0, warp=warp), smaller) < 0.005


@pytest.mark.parametrize("keys", VIEWS.values(), ids=VIEWS)
def test_a_wave_made_smaller_is_where_geometry_puts_it(keys):
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    seen = view(**keys)
    size = seen.size[0] * 2 // 5, seen.size[1] * 2 // 5
    found, exact = turned(seen, planes(wave(x, y, 0.05)), size), wave(*places(seen, size), 0.05)
    assert np.abs(found[0] - exact)[INSIDE].max() < 0.045


@pytest.mark.parametrize("keys", [dict(straighten=4.0), LEAN], ids=["turned", "leaning"])
def test_agrees_with_another_library(keys):
    """scikit-image's warp with splines of fifth order, of a picture with detail of a few pixels."""
    from scipy.ndimage import gaussian_filter
    from skimage.transform import ProjectiveTransform, warp

    light = gaussian_filter(np.random.default_rng(4).random((HEIGHT, WIDTH)), 1.5)
    light = (light - light.min()) / np.ptp(light)
    seen = view(**keys)
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    to_frame = ProjectiveTransform(np.linalg.inv(half) @ seen.matrix @ half)
    other = warp(light, to_frame, output_shape=seen.size[::-1], order=5)
    difference = np.abs(turned(seen, planes(light))[0] - other)[INSIDE]
    assert difference.max() < 0.02 and np.sqrt(np.mean(difference**2)) < 0.003


def test_no_false_pattern_where_a_zone_plate_is_made_smaller():
    """Waves too fine for the smaller picture become even grey, not coarser waves; those that it
    can hold stay. Local frequency rises from 0 to half a cycle a pixel at the side."""
    size = 512
    y, x = np.mgrid[0:size, 0:size] - (size - 1) / 2
    plate = 0.5 + 0.5 * np.cos(np.pi * (x * x + y * y) / (2 * size / 2))
    seen = view(size, size, straighten=3.0)
    side = seen.size[0] * 2 // 5
    found = turned(seen, planes(plate), (side, side))[0]
    fx, fy = places(seen, (side, side))
    frequency = np.hypot(fx - (size - 1) / 2, fy - (size - 1) / 2) / size
    limit = 0.5 * side / seen.size[0]
    assert found[frequency > 1.45 * limit].std() < 0.03 * found[frequency < 0.5 * limit].std()
    assert found[frequency < 0.5 * limit].std() > 0.3


@pytest.mark.parametrize("degrees", [0.5, 2.3, 5.0])
@pytest.mark.parametrize("slant", [0.0, 0.3, 1.4])
def test_a_hard_edge_rings_by_less_than_two_per_cent(degrees, slant):
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
    across = (x - WIDTH / 2) * np.cos(slant) + (y - HEIGHT / 2) * np.sin(slant)
    found = turned(view(straighten=degrees), planes(0.2 + 0.5 * (across > 0)))
    assert found.min() > 0.2 - 0.02 * 0.5 and found.max() < 0.7 + 0.02 * 0.5


def mtf50(values, across):
    """The frequency at which contrast has fallen by half, of an edge seen at places `across` it:
    edge profile in bins of a quarter pixel, its slope, and that one's spectrum (as ISO 12233)."""
    bins = np.floor(across * 4).astype(int)
    kept = np.abs(bins) <= 64
    profile = [values[kept][bins[kept] == k].mean() for k in range(-64, 64)]
    slope = np.diff(profile) * np.hanning(127)
    spectrum = np.abs(np.fft.rfft(slope, 4096))
    spectrum /= spectrum[0]
    fall = np.argmax(spectrum < 0.5)
    share = (spectrum[fall - 1] - 0.5) / (spectrum[fall - 1] - spectrum[fall])
    return (fall - 1 + share) * 4 / 4096


@pytest.mark.parametrize("degrees", [0.7, -2.3, 8.0])
@pytest.mark.parametrize("slant", [0.09, 1.48, 0.7])
def test_an_edge_keeps_its_sharpness(degrees, slant):
    """MTF50 falls by less than 5 % where nothing is made smaller, for an edge as a lens gives it:
    a Gaussian of 0.6 pixels, sampled by square pixels."""
    from scipy.special import erf

    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)

    def across(x, y):
        return (x - WIDTH / 2) * np.cos(slant) + (y - HEIGHT / 2) * np.sin(slant)

    steps = (np.arange(8) + 0.5) / 8 - 0.5
    samples = [across(x + i, y + j) for i in steps for j in steps]
    edge = np.mean([erf(each / (0.6 * 2**0.5)) for each in samples], axis=0)
    seen = view(straighten=degrees)
    found = turned(seen, planes(0.5 + 0.3 * edge))[0]
    before = mtf50(edge[INSIDE].ravel(), across(x, y)[INSIDE].ravel())
    after = mtf50(found[INSIDE].ravel(), across(*places(seen))[INSIDE].ravel())
    assert after > 0.95 * before
    assert after < 1.05 * before


OUTPUTS = [Output(), Output("tiff"), Output(long_edge=100), Output("tiff8", "grey")]
LOOKS = {
    "turned": {"framing": TURN},
    "leaning": {"framing": LEAN, "lift": {"shadows": 1.0}},
    "cropped": {"framing": {"crop": {"left": 0.21, "top": 0.13, "right": 0.8}}},
    "cornered": {"framing": {"straighten": 20.0, "corners": "white"}},
}


@pytest.mark.parametrize("keys", LOOKS.values(), ids=LOOKS)
@pytest.mark.parametrize("shape", [(7, 13), (33, 64), (20, 1000)])
def test_tiles_and_threads_do_not_show(keys, shape, monkeypatch):
    original, look = frame(scene(120, 180)), recipe(**keys)
    for output in OUTPUTS:
        whole = render(original, look, output, workers=1)
        with monkeypatch.context() as patch:
            patch.setattr(execute, "TILE", shape)
            patch.setattr(sampling, "PIECE", (shape[0], 16 * (1 + shape[1] // 16)))
            tiled = render(original, look, output, workers=3)
        np.testing.assert_array_equal(tiled.array, whole.array)
        assert tiled.clipping == whole.clipping


def test_a_crop_is_cut_out_and_nothing_outside_of_it_is_graded(monkeypatch):
    original, read = frame(scene(120, 180)), []
    crop = {"left": 0.25, "top": 0.5, "right": 0.75, "bottom": 0.9}
    whole = render(original, recipe(), Output("tiff")).array
    pixels = original.pixels.read
    original.pixels.read = lambda region: read.append(region) or pixels(region)
    cut = render(original, recipe(framing={"crop": crop}), Output("tiff"), workers=1)
    np.testing.assert_array_equal(cut.array, whole[60:108, 45:135])
    assert read == [Region(60, 108, 45, 135)]
    assert cut.clipping["black"]["red"] == (cut.array[..., 0] == 0).mean()


def test_several_deliveries_of_one_framed_grade_are_what_they_are_alone():
    original, look = frame(scene(120, 180)), recipe(framing=LEAN)
    for picture, output in zip(render_outputs(original, look, OUTPUTS), OUTPUTS, strict=True):
        alone = render(original, look, output)
        np.testing.assert_array_equal(picture.array, alone.array)
        assert picture.clipping == alone.clipping


def test_several_recipes_that_frame_otherwise_are_what_they_are_alone():
    original = frame(scene(120, 180))
    looks = [recipe(**keys) for keys in LOOKS.values()] + [recipe()]
    for picture, look in zip(render_each(original, looks), looks, strict=True):
        np.testing.assert_array_equal(picture.array, render(original, look).array)


def test_turning_a_frame_moves_no_mask():
    """A mask's edge lies over the same part of the scene, whatever the turn."""
    sky = {"where": {"gradient": {"full": [0.5, 0.4], "none": [0.5, 0.6], "feather": 0.0}}}
    keys = {"local": {"sky": sky | {"exposure": {"stops": 2.0}}}}
    original = frame(np.full((3, HEIGHT, WIDTH), 0.1, np.float32))
    plain = render(original, recipe(**keys), Output("tiff")).array
    framed = render(original, recipe(**keys, framing=LEAN), Output("tiff"))
    seen = view_of(framed.resolved.parts["framing"], WIDTH, HEIGHT)
    _, y = places(seen)
    assert plain[:140].min() > 1.5 * plain[160:].max()
    assert framed.array[y < 147].min() == plain.max()
    assert framed.array[y > 152].max() == plain.min()


def test_empty_corners_are_filled_where_they_are_asked_for():
    original = frame(np.full((3, 120, 180), 0.18, np.float32))
    for fill, code in (("black", 0), ("white", 255)):
        framed = render(original, recipe(framing={"straighten": 10.0, "corners": fill}))
        assert framed.array.shape == (120, 180, 3)
        x, y = places(view_of(framed.resolved.parts["framing"], 180, 120))
        beyond = (x < -0.5) | (y < -0.5) | (x > 179.5) | (y > 119.5)
        assert (framed.array[beyond] == code).all()
        shown = framed.array[~beyond].astype(int)
        assert np.ptp(shown) <= 2 < np.abs(shown - code).min()


def test_what_is_clipped_is_counted_where_it_is_delivered():
    light = np.full((3, HEIGHT, WIDTH), 0.18, np.float32)
    light[:, :, :40] = 9.0
    framed = render(frame(light), recipe(framing={"crop": {"left": 0.5}, "straighten": 2.0}))
    assert framed.clipping["white"] == {"red": 0, "green": 0, "blue": 0}
    framed = render(frame(light), recipe(framing=TURN))
    assert framed.clipping["white"]["red"] == (framed.array[..., 0] == 255).mean() > 0.05


def test_sizes_are_those_of_the_framed_picture():
    original = frame(np.full((3, HEIGHT, WIDTH), 0.18, np.float32))
    square = recipe(framing={"aspect": "1:1"})
    assert render(original, square, Output(long_edge=100)).array.shape == (100, 100, 3)
    assert render(original, square, Output(box=(90, 200))).array.shape == (90, 90, 3)


def test_a_preview_shows_what_the_original_does():
    y, x = np.mgrid[0:400, 0:600].astype(float)
    original = frame(planes(0.3 + 0.2 * np.sin(x / 40) * np.cos(y / 30)))
    look = resolve(recipe(framing=LEAN), original)
    large = render(original, look, Output("tiff", long_edge=250)).array.astype(int)
    small = render(preview(original, 300), look, Output("tiff", long_edge=250)).array.astype(int)
    rows = min(large.shape[0], small.shape[0])
    assert abs(large.shape[0] - small.shape[0]) <= 1
    assert np.abs(large[:rows] - small[:rows]).mean() < 0.01 * 65535


def test_what_is_no_number_stays_where_it_is():
    light = np.full((3, 120, 180), 0.18, np.float32)
    light[:, 60, 90] = np.nan
    good = render(frame(np.full_like(light, 0.18)), recipe(framing=TURN)).array
    found = render(frame(light), recipe(framing=TURN)).array
    bad = np.argwhere((found != good).any(axis=-1))
    assert len(bad) and np.ptp(bad, axis=0).max() <= 8


def test_the_identity_is_not_sampled():
    assert View(60, 40).is_upright
    original = frame(scene(40, 60))
    np.testing.assert_array_equal(
        render(original, recipe(framing={"straighten": 0.0, "aspect": 1.5})).array,
        render(original, recipe()).array,
    )
