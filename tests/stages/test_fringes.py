"""Fringes: what is left of them about lamps, and that colours which are no fringes stay."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene, signal, two_matrix_camera
from grading.colour import oklab
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import D65, SPACES, WORKING, rgb_to_xyz, xy_to_xyz
from grading.engine import execute
from grading.engine.execute import render
from grading.engine.output import Output
from grading.frame import Noise
from grading.region import Region
from grading.signal import Signal
from grading.stages.fringes import STAGE, Fringes

EXAMPLE = {"width": 6.0}
ALONE = [{"width": 2.0}]

NEUTRAL, SODIUM, VIOLET = (1, 1, 1), (1, 0.62, 0.28), (0.5, 0.25, 1)
NIGHT, DUSK = (0.02, 0.02, 0.02), (0.02, 0.03, 0.07)
AS_LENSES_DO = [(0.6, 0.6), (0.0, 0.0), (1.5, -0.4)]
"""For each channel the deviation of a blur (axial) and a shift along x (lateral), in pixels."""
QUIET = Noise(0.0, 1e-6)
ALIKE = [(0.0, 0.0)] * 3


def lamp(tint=NEUTRAL, dark=NIGHT, radius=40, size=192, noise=0.01, channels=AS_LENSES_DO, seed=0):
    """A lamp of 5.6 stops above the night and its fringes, (3, size, size), float32; `noise` is a
    share of light."""
    rng = np.random.default_rng(seed)
    y, x = np.indices((size, size)) - size / 2
    planes = []
    for bright, night, (deviation, shift) in zip(tint, dark, channels, strict=True):
        away = np.hypot(x - shift, y) - radius
        rise = 1 / (1 + np.exp(np.clip(away / 0.6, -60, 60)))
        planes.append(night + (bright - night) * blurred(rise, deviation))
    planes = np.stack(planes)
    return np.float32(planes * (1 + noise * rng.normal(size=planes.shape)))


def blurred(plane, deviation):
    if deviation == 0:
        return plane
    taps = np.exp(-np.square(np.arange(-7, 8) / deviation) / 2)
    taps /= taps.sum()
    for axis in (0, 1):
        plane = np.apply_along_axis(
            lambda line: np.convolve(np.pad(line, 7, mode="edge"), taps, "valid"), axis, plane
        )
    return plane


def chroma(light, tint=NEUTRAL, radius=40):
    """Oklab chroma of light divided by a tint, taken for sRGB's, the worst within 8 pixels of the
    rim."""
    rgb = np.moveaxis(np.clip(light, 0, None), 0, -1) / tint
    lab = oklab.xyz_to_oklab(rgb @ rgb_to_xyz(SPACES["srgb"]).T)
    y, x = np.indices(light.shape[1:]) - light.shape[1] / 2
    rim = np.abs(np.hypot(x, y) - radius) < 8
    return np.hypot(lab[..., 1], lab[..., 2])[rim].max()


def off(light, truth, radius):
    """Difference in Oklab's a and b near a rim, the worst."""
    found, exact = (oklab.working_to_oklab(np.moveaxis(each, 0, -1)) for each in (light, truth))
    y, x = np.indices(light.shape[1:]) - light.shape[1] / 2
    rim = np.abs(np.hypot(x, y) - radius) < 8
    return np.hypot(*np.moveaxis((found - exact)[rim][:, 1:], -1, 0)).max()


def lab_of(light):
    return xyz_to_lab(np.moveaxis(light, 0, -1) @ rgb_to_xyz(WORKING).T, xy_to_xyz(D65))


def without(light, width=8.0, noise=QUIET):
    original = frame(light, two_matrix_camera(), noise)
    constants = STAGE.prepare(Fringes(width=width), Signal.of(original))
    place = Region.whole(*light.shape[1:])
    return STAGE.apply(light, constants, place, place)


@pytest.mark.parametrize("tint", [NEUTRAL, SODIUM])
@pytest.mark.parametrize("balance", [(1, 1, 1), (0.5, 1, 0.7)])
def test_a_lamp_keeps_hardly_a_fringe(tint, balance):
    """In the light of any camera, balanced or not."""
    gains = np.reshape(balance, (3, 1, 1)).astype(np.float32)
    seen = lamp(tint, np.multiply(NIGHT, tint)) * gains
    left = without(seen) / gains
    assert chroma(seen / gains, tint) > 0.09
    assert chroma(left, tint) <= 0.02


@pytest.mark.parametrize("tint", [NEUTRAL, SODIUM, VIOLET])
def test_where_both_sides_have_colours_the_fringe_is_less_than_half(tint):
    truth, seen = lamp(tint, DUSK, channels=ALIKE, noise=0), lamp(tint, DUSK)
    assert off(without(seen), truth, 40) < 0.5 * off(seen, truth, 40)


@pytest.mark.parametrize("radius", [2.5, 4, 10, 40])
@pytest.mark.parametrize("tint", [VIOLET, SODIUM, (0.05, 0.1, 1)])
def test_a_coloured_lamp_keeps_its_chroma(tint, radius):
    """Within 1 %, whatever its size, where there are no fringes."""
    light = lamp(tint, DUSK, radius, channels=ALIKE)
    y, x = np.indices(light.shape[1:]) - light.shape[1] / 2
    inside = np.hypot(x, y) < radius - 0.5

    def of_lamp(light):
        lab = oklab.working_to_oklab(np.moveaxis(light, 0, -1))
        return np.hypot(lab[..., 1], lab[..., 2])[inside].mean()

    assert of_lamp(without(light)) == pytest.approx(of_lamp(light), rel=0.01)


@pytest.mark.parametrize("size", [3, 4])
@pytest.mark.parametrize("softness", [0.6, 1.0])
def test_a_small_window_beside_a_large_light_keeps_its_colour(size, softness):
    """Too small to be even, darker than the light, and of another colour."""
    wall = np.full((3, 60, 80), 0.02)
    wall[:, 30:] = np.reshape((0.2, 1, 0.35), (3, 1, 1))
    for x in range(6, 70, 12):
        wall[:, 26 - size : 26, x : x + size] = np.reshape((0.9, 0.65, 0.2), (3, 1, 1))
    seen = np.float32(np.stack([blurred(plane, softness) for plane in wall]))
    apart = delta_e_2000(lab_of(without(seen)), lab_of(seen))
    assert apart[:28][wall[1, :28] > 0.1].max() < 0.6


def test_colours_away_from_edges_stay():
    """Patches of a chart with noise: within a CIEDE2000 of 0.3, and of less on average with their
    edges, where noise counts as a fringe."""
    rng = np.random.default_rng(5)
    chart = np.kron(rng.uniform(0.03, 0.8, (3, 6, 8)), np.ones((32, 32)))
    seen = np.float32(chart * (1 + 0.02 * rng.normal(size=chart.shape)))
    found = without(seen, noise=Noise(4e-4, 1e-7))
    apart = delta_e_2000(lab_of(found), lab_of(seen))
    y, x = np.indices(apart.shape) % 32 - 15.5
    away = np.maximum(np.abs(x), np.abs(y)) < 11
    assert apart[away].max() < 0.3
    assert apart.mean() < 0.25


def test_texture_is_left_alone():
    """Leaves of all greens and browns: what there is a fringe, nobody can tell."""
    rng = np.random.default_rng(6)
    leaves = np.kron(rng.uniform(0.02, 0.5, (3, 50, 60)), np.ones((3, 3)))
    leaves = np.float32(leaves)
    np.testing.assert_array_equal(without(leaves), leaves)


def test_a_preview_is_worked_on_at_its_own_size():
    """In blocks of 2x2 pixels, which reach half a pixel farther than twice as many pixels."""
    widths = {8.0: 4, 7.0: 3, 2.0: 1, 1.4: None}
    for width, far in widths.items():
        constants = STAGE.prepare(Fringes(width=width), signal())
        assert (constants and constants.far) == far
    small = Signal(signal().facts, "scene", 4)
    assert STAGE.prepare(Fringes(width=8.0), small).far == 1
    assert STAGE.prepare(Fringes(width=4.0), small) is None


def test_rendered_originals_and_tiles(monkeypatch):
    """A JPEG has fringes as well; tiles do not show."""
    light = np.concatenate([lamp(size=128, radius=r, noise=0.003) for r in (5, 30)], axis=2)
    original, look = frame(light), recipe(fringes=EXAMPLE, deblur={"amount": 0.5})
    whole = render(original, look, Output("tiff"), workers=1)
    assert np.abs(whole.array - render(original, recipe(), Output("tiff")).array.astype(int)).max()
    monkeypatch.setattr(execute, "TILE", (13, 37))
    np.testing.assert_array_equal(render(original, look, Output("tiff"), 2).array, whole.array)


def test_light_of_all_kinds_comes_out_whole():
    light = scene(60, 90, seed=7)
    assert np.isfinite(without(light, noise=Noise(1e-3, 1e-5))).all()
