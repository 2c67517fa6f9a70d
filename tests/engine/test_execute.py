"""Rendering: the same bits however the work is shared out, and the numbers reported with it."""

import _thread
import time

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from frames_in_memory import frame, recipe, scene, two_matrix_camera
from grading import kernels
from grading.colour import oklab, spaces, transfer
from grading.engine import execute, finish
from grading.engine.execute import render, render_each
from grading.engine.output import Output
from grading.stages.registry import STAGES
from legal_parameters import legal
from stage_examples import EXAMPLES

EVERYTHING = EXAMPLES | {
    "local": {
        "sky": {
            "where": {"gradient": {"full": [0.6, 0.0], "none": [0.4, 0.7], "feather": 0.8}},
            "white_balance": {"shift": -25},
            "exposure": {"stops": -0.7},
            "lift": {"highlights": -1.0},
        },
        "boat": {
            "where": {
                "all": [
                    {"ellipse": {"centre": [0.4, 0.6], "radius": [0.3, 0.2], "turn": 20}},
                    {"not": {"ellipse": {"centre": [0.5, 0.6], "radius": [0.05, 0.05]}}},
                ]
            },
            "lift": {"shadows": 1.0},
            "levels": {"black": -8.0},
            "split_toning": {"midtones": {"hue": 60, "chroma": 0.02}},
            "hues": {"warm": {"centre": "YR", "saturation": 0.4}},
        },
    },
}


def everything():
    return recipe(**EVERYTHING)


def grey_frame(codes, height=8):
    """A rendered original whose grey columns come out at these 8-bit sRGB codes."""
    linear = transfer.decode("srgb", np.asarray(codes, float) / 255)
    return frame(np.broadcast_to(linear, (3, height, len(linear))))


@pytest.fixture(scope="module")
def big():
    original = frame(scene(300, 400), two_matrix_camera())
    outputs = {
        "jpeg": Output(),
        "tiff": Output("tiff", "display-p3"),
        "small": Output(long_edge=177),
    }
    return original, {
        key: (o, render(original, everything(), o, workers=1)) for key, o in outputs.items()
    }


@pytest.mark.parametrize("shape", [(7, 13), (64, 64), (128, 256), (1000, 1000), (1, 400)])
@pytest.mark.parametrize("key", ["jpeg", "tiff", "small"])
def test_tiles_of_any_shape_give_the_same_bits(big, shape, key, monkeypatch):
    original, references = big
    output, reference = references[key]
    monkeypatch.setattr(execute, "TILE", shape)
    picture = render(original, everything(), output, workers=2)
    np.testing.assert_array_equal(picture.array, reference.array)
    assert picture.clipping == reference.clipping


@pytest.mark.parametrize("workers", [1, 2, 5, None])
def test_any_number_of_workers_gives_the_same_bits(big, workers):
    original, references = big
    for output, reference in references.values():
        picture = render(original, everything(), output, workers)
        np.testing.assert_array_equal(picture.array, reference.array)
        assert picture.clipping == reference.clipping


def test_the_resolved_recipe_makes_the_same_picture(big):
    original, references = big
    _, reference = references["jpeg"]
    again = render(original, reference.resolved)
    np.testing.assert_array_equal(again.array, reference.array)


@pytest.mark.parametrize("long_edge", [None, 33])
@pytest.mark.parametrize("size", [(193, 7), (65, 40), (5, 1025), (192, 16)])
def test_nothing_beyond_a_picture_is_written(size, long_edge, monkeypatch):
    """A last tile of one row or column, and a last strip of a smaller size, end with it."""
    memories = []

    def between_bands(height, width, bits):
        memory = np.full((height + 400, width, 3), 7, f"u{bits // 8}")
        memories.append((memory, height))
        return memory[200 : 200 + height]

    monkeypatch.setattr(finish, "_empty", between_bands)
    render(frame(scene(*size)), recipe(), Output(long_edge=long_edge))
    ((memory, height),) = memories
    assert (memory[:200] == 7).all() and (memory[200 + height :] == 7).all()


def test_a_rendered_original_comes_back_as_it_was():
    """A neutral recipe: 8-bit sRGB in, the same 8-bit sRGB out, but for the dither of a code."""
    codes = np.arange(256)
    array = render(grey_frame(codes, 64), recipe()).array.astype(int)
    difference = array - codes[:, None]
    assert np.abs(difference).max() <= 1
    assert np.abs(difference.mean(axis=(0, 2))).max() < 0.25
    assert abs(difference.mean()) < 0.01
    np.testing.assert_array_equal(array[:, [0, 255]], [[[0] * 3, [255] * 3]] * 64)


def test_sixteen_bits_come_back_within_a_code():
    """Gate of a neutral recipe: identity to 1.5 of 65535."""
    codes = np.random.default_rng(0).integers(0, 65536, (40, 50, 3))
    linear = transfer.decode("srgb", codes / 65535)
    light = linear @ spaces.rgb_to_rgb(spaces.SPACES["srgb"], spaces.WORKING).T
    array = render(frame(np.moveaxis(light, -1, 0)), recipe(), Output("tiff")).array
    assert array.dtype == np.uint16
    assert np.abs(array.astype(int) - codes).max() <= 1.5


def test_the_engine_follows_the_formulas():
    """Exposure, levels, a contrast curve and toning in double precision, one after the other."""
    from grading.stages.split_toning import SplitToning, rise
    from grading.stages.tone_curve import ToneCurve, curve

    light = np.random.default_rng(1).random((3, 20, 30)).astype(np.float32)
    curve_keys = {"contrast": 1.2, "white": 3.5, "shoulder": 0.3}
    tints = {
        "shadows": {"hue": 250.0, "chroma": 0.01},
        "highlights": {"hue": 70.0, "chroma": 0.008},
    }
    keys = {"exposure": {"stops": 0.5}, "levels": {"black": -8.0}, "tone_curve": curve_keys}
    array = render(frame(light), recipe(**keys, split_toning=tints), Output("tiff", "bt2020")).array

    black = 0.18 * 2.0**-8
    scene_light = (np.moveaxis(light, 0, -1).astype(np.float64) * 2**0.5 - black) / (1 - black)
    lab = oklab.working_to_oklab(scene_light)
    stops = np.log2(lab[..., :1] ** 3 / 0.18)
    lab *= np.exp2((curve(ToneCurve(**curve_keys), stops) - stops) / 3)
    toning = SplitToning.model_validate(tints)
    u = np.clip(lab[..., 0], 0, 1) ** rise(0.0)
    for share, tint in (((1 - u) ** 2, toning.shadows), (u**2, toning.highlights)):
        angle = np.radians(tint.hue)
        lab[..., 1] += share * tint.chroma * np.cos(angle)
        lab[..., 2] += share * tint.chroma * np.sin(angle)
    linear = oklab.oklab_to_working(lab)
    inside = (linear.min(axis=-1) > 1e-4) & (linear.max(axis=-1) < 1 - 1e-4)
    exact = 65535 * transfer.encode("bt2020", np.clip(linear, 0, 1))
    assert inside.sum() > 100
    # the tables of the curve and of the toning are straight between their entries
    assert np.abs(array[inside] - exact[inside]).max() < 8


def test_shares_of_clipped_pixels():
    light = np.full((3, 10, 25), 0.2, np.float32)
    light[:, :2] = 5.0
    light[:, 2:5] = -1.0
    light[:, 9] = np.array([0.0, 0.6, 0.0])[:, None]
    for output in (Output(), Output("tiff"), Output("tiff", "bt2020")):
        clipping = render(frame(light), recipe(), output).clipping
        green_is_wide = output.space != "bt2020"
        assert clipping["white"]["red"] == clipping["white"]["blue"] == 0.2
        assert clipping["white"]["green"] >= 0.2
        assert clipping["black"]["green"] == pytest.approx(0.3)
        assert clipping["outside"] == pytest.approx(0.1 if green_is_wide else 0.0)


def test_a_tinted_white_counts_as_white():
    """Light beyond white is white in every channel, whatever its tint, in both depths."""
    light = np.full((3, 4, 4), 3.0, np.float32)
    light[2] *= 0.9
    for format_name in ("jpeg", "tiff"):
        clipping = render(frame(light), recipe(), Output(format_name)).clipping
        assert clipping["white"] == {"red": 1.0, "green": 1.0, "blue": 1.0}


@pytest.mark.parametrize(("height", "width"), [(90, 140), (140, 90)])
@pytest.mark.parametrize("format_name", ["jpeg", "tiff"])
def test_a_smaller_size_keeps_orientation_and_place(height, width, format_name):
    """A bright corner stays in its corner."""
    light = np.full((3, height, width), 0.05, np.float32)
    light[:, : height // 4, : width // 4] = 0.8
    array = render(frame(light), recipe(), Output(format_name, long_edge=70)).array
    assert array.shape == ((45, 70, 3) if width > height else (70, 45, 3))
    top = np.iinfo(array.dtype).max
    assert array[4, 4].min() > 0.85 * top
    for corner in (array[4, -5], array[-5, 4], array[-5, -5]):
        assert corner.max() < 0.3 * top


@pytest.mark.parametrize("long_edge", [140, 141, 5000])
def test_a_picture_is_never_enlarged(long_edge):
    light = scene(90, 140)
    same = render(frame(light), recipe(), Output(long_edge=long_edge)).array
    np.testing.assert_array_equal(same, render(frame(light), recipe()).array)


def test_resizing_happens_in_linear_light():
    """A fine checkerboard of black and white becomes sRGB 187.5, half of the light."""
    board = np.indices((128, 128)).sum(axis=0) % 2
    array = render(frame(np.repeat(board[None], 3, axis=0)), recipe(), Output(long_edge=64)).array
    assert array[8:-8, 8:-8].mean() == pytest.approx(187.5, abs=0.3)


def test_resizing_agrees_with_pillow():
    """Lanczos on floats in linear light, by Pillow, encoded by the formula."""
    light = np.random.default_rng(5).uniform(0.2, 0.6, (96, 128)).astype(np.float32)
    array = render(
        frame(np.repeat(light[None], 3, axis=0)), recipe(), Output("tiff", long_edge=50, sharpen=0)
    ).array
    other = Image.fromarray(light, mode="F").resize((50, 38), Image.Resampling.LANCZOS)
    exact = 65535 * transfer.encode("srgb", np.asarray(other))
    assert np.abs(array[..., 1] - exact).max() < 4


def test_dither_of_a_smaller_size_does_not_repeat():
    """Flat light between two codes; strips that were alike would show as stripes."""
    light = np.full((3, 300, 280), 0.2, np.float32)
    array = render(frame(light), recipe(), Output(long_edge=200)).array.astype(float)
    error = array[..., 1] - array[..., 1].mean()
    lines = error @ error.T / error.shape[1] / error.var()
    alike = lines - np.diag(np.diag(lines))
    assert error.var() > 0.1
    # a correlation of white noise over 187 pixels has a standard deviation of 0.073
    assert np.abs(alike).max() < 0.073 * 6


@pytest.mark.parametrize(
    ("colour", "white", "outside"), [((5.0, 5.0, 5.0), 0.5, 0.0), ((0.0, 0.6, 0.0), 0.0, 0.5)]
)
def test_clipping_of_a_smaller_size_counts_its_own_pixels(colour, white, outside):
    light = np.full((3, 64, 64), 0.2, np.float32)
    light[:, :32] = np.array(colour)[:, None, None]
    clipping = render(frame(light), recipe(), Output("tiff", long_edge=32)).clipping
    assert clipping["white"]["red"] == pytest.approx(white, abs=0.07)
    assert clipping["outside"] == outside


@pytest.mark.parametrize("size", [(1, 1), (1, 300), (300, 1)])
def test_the_smallest_frames(size):
    light = np.full((3, *size), 0.18, np.float32)
    array = render(frame(light), everything()).array
    assert array.shape == (*size, 3)


def test_an_original_is_not_changed():
    light = scene(50, 60)
    original = frame(light)
    kept = original.pixels.planes.copy()
    render(original, everything())
    np.testing.assert_array_equal(original.pixels.planes, kept)


def test_an_error_in_a_tile_reaches_the_caller():
    original = frame(scene(50, 60))
    original.pixels.read = lambda region: (_ for _ in ()).throw(OSError("card removed"))
    with pytest.raises(OSError, match="card removed"):
        render(original, recipe(), workers=2)


@pytest.mark.parametrize(
    ("workers", "interrupted"), [(1, True), (2, True), (2, False), (4, True), (4, False)]
)
def test_after_an_interrupt_or_an_error_no_tile_is_begun(
    workers, interrupted, monkeypatch, interruptible
):
    """Each thread ends the tile it is at: the caller is interrupted, or a thread gets an error."""
    original, begun = frame(scene(400, 2)), []
    plain_read = original.pixels.read

    def read(region):
        begun.append(region)
        time.sleep(0.02)  # so that a busy machine has time to notice
        if not interrupted:
            raise OSError("card removed")
        if region.top == 1:
            _thread.interrupt_main()
        return plain_read(region)

    original.pixels.read = read
    monkeypatch.setattr(execute, "TILE", (1, 2))
    with pytest.raises(KeyboardInterrupt if interrupted else OSError):
        render(original, recipe(), workers=workers)
    assert len(begun) < 40  # of 400


@given(data=st.data())
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_legal_recipe_renders(data):
    """Whatever it says, a pixel that is no number touches no other, but through a guide."""
    keys = {stage.name: data.draw(legal(stage.parameters)) for stage in STAGES}
    keys["white_balance"].pop("neutral", None)
    light = scene(13, 21, seed=9)
    good = render(frame(light), recipe(**keys)).array
    light[:, 6, 10] = np.nan
    picture = render(frame(light), recipe(**keys))
    shares = [*picture.clipping["black"].values(), *picture.clipping["white"].values()]
    assert all(0 <= share <= 1 for share in [*shares, picture.clipping["outside"]])
    if not any(any(keys[stage.name].values()) for stage in STAGES if not stage.is_pointwise):
        good[6, 10] = picture.array[6, 10]
        np.testing.assert_array_equal(picture.array, good)


@pytest.mark.parametrize("long_edge", [None, 60])
def test_several_recipes_at_once_are_what_they_are_alone(long_edge):
    """Whatever they share, from all steps to none; a lift with its guide among them."""
    lifted = {"exposure": {"stops": 0.5}, "lift": {"shadows": 1.0}}
    sky = {"where": {"gradient": {"full": [0.5, 0], "none": [0.5, 0.6]}}}
    several = [
        recipe(**lifted),
        recipe(**lifted, levels={"white": 3.0}),
        recipe(**lifted, local={"sky": sky | {"exposure": {"stops": -1.0}}}),
        recipe(exposure={"stops": 0.5}),
        recipe(white_balance={"kelvin": 4000.0}),
        recipe(**lifted),
    ]
    original = frame(np.random.default_rng(5).uniform(0, 1.2, (3, 70, 90)).astype(np.float32))
    output = Output(long_edge=long_edge)
    for chosen in (several, several[:3], several[:2], several[::5]):
        for picture, alone in zip(render_each(original, chosen, output), chosen, strict=True):
            expected = render(original, alone, output)
            np.testing.assert_array_equal(picture.array, expected.array)
            assert picture.clipping == expected.clipping


def test_what_several_recipes_begin_with_is_done_once(monkeypatch):
    read, lifted = [], []
    original = frame(np.full((3, 40, 50), 0.2, np.float32))
    plain_read = type(original.pixels).read
    monkeypatch.setattr(
        type(original.pixels),
        "read",
        lambda self, *tile: read.append(tile) or plain_read(self, *tile),
    )
    plain_lift = kernels.detail.lift
    monkeypatch.setattr(kernels.detail, "lift", lambda *a: lifted.append(1) or plain_lift(*a))
    looks = [recipe(lift={"shadows": 1.0}, levels={"white": w}) for w in (2.0, 3.0)]
    render_each(original, looks, workers=1)
    assert len(read) == len(lifted) == 1
