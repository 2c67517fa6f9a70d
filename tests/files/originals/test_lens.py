"""What a DNG states of its lens, written into files and undone when they are read."""

import numpy as np
import pytest
import tifffile

import dng
from files.charts import MATRIX_A
from files.opcode_lists import LIST_1, LIST_2, LIST_3, gain_map, listed, vignette, warp
from grading.engine.plan import make_plan
from grading.engine.resolve import resolve
from grading.files.originals import open_frame
from grading.lens.optics import MAP_SIDE
from grading.recipe.load import recipe_from_mapping
from grading.region import Region

ROWS, COLUMNS = 120, 180
WHITE = 16000
VIGNETTE = (0.6, 0.3, -0.1, 0.05, 0.02)
CENTRE = (0.45, 0.56)
GREEN = (1.0, -0.06, 0.01, 0.0, 0.001, -0.002)
RED = (1.001, -0.058, 0.0095, 0.0, 0.001, -0.002)
BLUE = (0.9995, -0.062, 0.01, 0.0005, 0.0012, -0.002)


def from_centre(centre=(0.5, 0.5), rows=ROWS, columns=COLUMNS):
    """Places in units of the specification: from the centre to the farthest corner."""
    y, x = np.mgrid[0:rows, 0:columns] + 0.5
    x, y = x - centre[0] * columns, y - centre[1] * rows
    far = [max(c, 1 - c) * size for c, size in zip(centre, (columns, rows), strict=True)]
    return x / np.hypot(*far), y / np.hypot(*far)


def radial(square, gains):
    return 1 + sum(g * square ** (k + 1) for k, g in enumerate(gains))


def specified(x, y, numbers):
    """WarpRectilinear as DNG 1.4 writes it out, in its own units."""
    k0, k1, k2, k3, t0, t1 = numbers
    r = x * x + y * y
    f = k0 + k1 * r + k2 * r**2 + k3 * r**3
    return (
        f * x + 2 * t0 * x * y + t1 * (r + 2 * x * x),
        f * y + 2 * t1 * x * y + t0 * (r + 2 * y * y),
    )


@pytest.fixture
def write(tmp_path):
    def write(codes, **changes):
        path = tmp_path / "a.dng"
        if codes.ndim == 3 and changes.pop("mosaic", True):
            codes = dng.mosaic_of(codes)
        options = dict(white=WHITE, color_matrix1=MATRIX_A, illuminant1="A",
                       as_shot_neutral=(0.5, 1.0, 0.6))  # fmt: skip
        dng.write_dng(path, np.round(codes).astype(np.uint16), **options | changes)
        return path

    return write


def grey(shade):
    """Codes of an even grey surface under some shade, as this camera sees it."""
    return 0.4 * WHITE * np.float64([0.5, 1.0, 0.6]) * shade[..., None]


def developed(frame):
    """The frame through all steps before the tone curve."""
    plan = make_plan(resolve(recipe_from_mapping({"grading": 1}, "test"), frame), frame)
    light = frame.pixels.read(plan.frame)
    for step in plan.steps:
        if step.stage.name == "tone_curve":
            return light
        light = step.act(light, plan.factor, plan.frame, plan.frame)


def test_a_list_is_where_other_readers_find_it(write):
    data = listed(vignette(*VIGNETTE))
    path = write(grey(np.ones((ROWS, COLUMNS))), opcode_lists={LIST_3: data})
    with tifffile.TiffFile(path) as tiff:
        assert bytes(tiff.pages[0].tags[LIST_3].value) == data


@pytest.mark.parametrize("orientation", range(1, 9))
def test_vignetting_is_undone_within_a_percent(write, orientation):
    x, y = from_centre(CENTRE)
    shade = 1 / radial(x * x + y * y, VIGNETTE)
    lists = {LIST_3: listed(vignette(*VIGNETTE, centre=CENTRE))}
    frame = open_frame(write(grey(shade), opcode_lists=lists, orientation=orientation))
    assert frame.facts.warnings == ()
    light = developed(frame)
    assert shade.min() < 0.62
    np.testing.assert_allclose(light / light.mean(axis=(1, 2), keepdims=True), 1, atol=0.006)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_warp_moves_places_as_the_specification_does(write, orientation):
    codes = grey(np.ones((ROWS, COLUMNS)))
    lists = {LIST_3: listed(warp(GREEN, centre=CENTRE))}
    frame = open_frame(write(codes, opcode_lists=lists, orientation=orientation))
    u, v = specified(*from_centre(CENTRE), GREEN)
    unit = np.hypot(max(CENTRE[0], 1 - CENTRE[0]) * COLUMNS, max(CENTRE[1], 1 - CENTRE[1]) * ROWS)
    stored = np.stack([u * unit + CENTRE[0] * COLUMNS, v * unit + CENTRE[1] * ROWS])
    expected = upright_places(stored, orientation)
    height, width = expected.shape[1:]
    y, x = np.mgrid[0:height, 0:width] + 0.5
    found = frame.facts.optics.distortion.to_frame(x, y, width, height)
    np.testing.assert_allclose(found, expected, atol=1e-9)
    assert frame.facts.optics.red is frame.facts.optics.blue is None


def upright_places(stored, orientation):
    """Places (x, y) at the pixels of a stored picture, as those of the upright one (Exif, 274)."""
    from grading.pixels import upright

    x, y = (upright(each, orientation) for each in stored)
    if orientation >= 5:
        x, y = y, x
    height, width = x.shape
    x = width - x if orientation in (2, 3, 6, 7) else x
    return np.stack([x, height - y if orientation in (3, 4, 7, 8) else y])


def test_three_planes_hold_lateral_colour(write):
    """Where red was recorded, seen from where green was, to a hundredth of a pixel."""
    lists = {LIST_3: listed(warp(RED, GREEN, BLUE))}
    optics = open_frame(write(grey(np.ones((ROWS, COLUMNS))), opcode_lists=lists)).facts.optics
    unit = np.hypot(ROWS, COLUMNS) / 2
    x, y = from_centre()
    middle = np.array([[COLUMNS / 2], [ROWS / 2]])

    def recorded(numbers):
        return np.reshape(specified(x, y, numbers), (2, -1)) * unit + middle

    for colour, numbers in ((optics.red, RED), (optics.blue, BLUE)):
        there = np.stack(colour.to_frame(*recorded(GREEN), COLUMNS, ROWS))
        apart = np.abs(there - recorded(numbers)).max()
        assert apart < 0.01 < 0.05 < np.abs(recorded(GREEN) - recorded(numbers)).max()


def test_a_vignette_after_a_warp_is_one_of_the_corrected_frame(write):
    lists = {LIST_3: listed(warp(GREEN[:4] + (0, 0)), vignette(*VIGNETTE))}
    falloff = open_frame(write(grey(np.ones((ROWS, COLUMNS))), opcode_lists=lists)).facts.optics
    r = np.linspace(0, 1, 50)
    recorded = np.hypot(*specified(r, 0 * r, GREEN[:4] + (0, 0)))
    found = falloff.falloff.correction(recorded)
    np.testing.assert_allclose(found, radial(r * r, VIGNETTE), rtol=2e-3)


SITES = ((0, 0), (0, 1), (1, 0), (1, 1))


def smooth_map(rows, columns, strength):
    y, x = np.mgrid[0:rows, 0:columns].astype(float)
    r = (2 * y / (rows - 1) - 1) ** 2 + (2 * x / (columns - 1) - 1) ** 2
    return (1 + strength * r)[..., None]


@pytest.mark.parametrize("orientation", [1, 6, 7])
def test_maps_for_each_site_of_a_mosaic_are_undone(write, orientation):
    strengths = np.array([0.5, 0.3, 0.3, 0.2])
    maps = [
        gain_map(smooth_map(13, 17, s), (ROWS, COLUMNS), site, (2, 2))
        for s, site in zip(strengths, SITES, strict=True)
    ]
    shade = np.stack([at_pixels(smooth_map(13, 17, s)[..., 0]) for s in strengths[[0, 1, 3]]], -1)
    codes = grey(np.ones((ROWS, COLUMNS))) / shade
    frame = open_frame(write(codes, opcode_lists={LIST_2: listed(*maps)}, orientation=orientation))
    assert frame.facts.optics.gains.shape == (3, MAP_SIDE, MAP_SIDE)
    light = developed(frame)
    light = light / light.mean(axis=(1, 2), keepdims=True)
    np.testing.assert_allclose(light, 1, atol=0.01)


def at_pixels(gains):
    """A map at the middle of each pixel of the frame, linearly, by NumPy's own interpolation."""
    rows, columns = gains.shape
    across = (np.arange(COLUMNS) + 0.5) / COLUMNS * (columns - 1)
    down = (np.arange(ROWS) + 0.5) / ROWS * (rows - 1)
    wide = np.stack([np.interp(across, np.arange(columns), row) for row in gains])
    return np.stack([np.interp(down, np.arange(rows), column) for column in wide.T], axis=1)


def test_maps_of_planes_are_undone(write):
    gains = np.concatenate([smooth_map(9, 9, s) for s in (0.4, 0.2, 0.3)], axis=2)
    shade = np.stack([at_pixels(gains[..., c]) for c in range(3)], axis=2)
    lists = {LIST_3: listed(gain_map(gains, (ROWS, COLUMNS), planes=(0, 3)))}
    frame = open_frame(write(grey(np.ones((ROWS, COLUMNS))) / shade, opcode_lists=lists))
    light = developed(frame)
    light = light / light.mean(axis=(1, 2), keepdims=True)
    np.testing.assert_allclose(light, 1, atol=0.01)


def test_places_are_those_of_the_active_area(write):
    """What is seen is less, and not in its middle; centre and corners stay what they are."""
    x, y = from_centre(rows=100, columns=150)
    shade = np.ones((ROWS, COLUMNS))
    shade[10:110, 20:170] = 1 / radial(x * x + y * y, VIGNETTE)
    frame = open_frame(
        write(grey(shade), opcode_lists={LIST_3: listed(vignette(*VIGNETTE))},
              active_area=(10, 20, 110, 170), default_crop=(8, 6, 120, 90))
    )  # fmt: skip
    assert (frame.facts.width, frame.facts.height) == (120, 90)
    light = developed(frame)
    np.testing.assert_allclose(light / light.mean(axis=(1, 2), keepdims=True), 1, atol=0.006)


def test_what_must_not_be_left_out_is_said(write):
    lists = {LIST_1: listed((4, b"", True)), LIST_3: listed((8, b"abc"), vignette(0.2))}
    frame = open_frame(write(grey(np.ones((ROWS, COLUMNS))), opcode_lists=lists))
    (sentence,) = frame.facts.warnings
    assert "MapPolynomial, and does not allow to leave it out" in sentence
    assert frame.facts.optics.falloff.gain[0] == 0.2


@pytest.mark.parametrize(
    ("opcodes", "said"),
    [
        ([warp((1, -2, 0, 0, 0, 0))], "more than a lens can need"),
        ([warp((0, 0, 0, 0, 0, 0), GREEN, BLUE)], "more than a lens can need"),
        ([vignette(-0.99)], "more than a lens can need"),
        ([gain_map(np.full((2, 2, 1), 1e9), (ROWS, COLUMNS))], "more than a lens can need"),
        ([gain_map(np.full((2, 2, 1), 2), (ROWS // 2, COLUMNS))], "a part of the frame"),
        ([(1, b"")], "cannot be read"),
    ],
)
def test_what_no_lens_does_is_left_out_and_said(write, opcodes, said):
    lists = {LIST_3: listed(*opcodes)}
    frame = open_frame(write(grey(np.ones((ROWS, COLUMNS))), opcode_lists=lists))
    (sentence,) = frame.facts.warnings
    assert said in sentence and frame.facts.optics is None


def test_a_file_without_lists_states_nothing(write):
    frame = open_frame(write(grey(np.ones((ROWS, COLUMNS)))))
    assert frame.facts.optics is None
    assert [step.stage.name for step in make_plan(
        resolve(recipe_from_mapping({"grading": 1}, "test"), frame), frame).steps
    ][:1] == ["white_balance"]  # fmt: skip
    assert frame.pixels.read(Region(0, 1, 0, 1)).shape == (3, 1, 1)
