"""The CDL stage against published values, another library, and its own meaning."""

import numpy as np
import pytest

from frames_in_memory import colours_of, frame, planes_of, recipe, scene
from grading.colour import oklab, spaces, transfer
from grading.engine.execute import render
from grading.engine.output import Output
from grading.stages import cdl
from kernels.guards import ODD_SHAPES, guarded

EXAMPLE = {"slope": [1.05, 1.0, 0.96], "power": [1.0, 1.05, 1.0], "saturation": 1.1}
ALONE = [{key: [1.0, 1.1, 1.0]} for key in ("slope", "offset", "power")] + [{"saturation": 0.9}]

SET_1 = dict(
    slope=[1.35, 1.1, 0.071], offset=[0.05, -0.23, 0.11], power=[0.93, 0.81, 1.27], saturation=1.23
)
SET_2 = dict(
    slope=[1.15, 1.1, 0.9], offset=[0.05, 0.02, 0.07], power=[1.2, 0.95, 1.13], saturation=0.87
)


def decided(codes, **parameters):
    """sRGB codes with a decision, by way of Oklab."""
    linear = transfer.decode("srgb", np.asarray(codes, float))
    lab = oklab.xyz_to_oklab(linear @ spaces.rgb_to_xyz(cdl.SPACE).T)
    out = cdl.apply(planes_of(lab), cdl.prepare(cdl.Cdl(**parameters), None))
    linear = oklab.oklab_to_xyz(colours_of(out)) @ spaces.xyz_to_rgb(cdl.SPACE).T
    return transfer.encode("srgb", linear)


def by_another_library(codes, parameters):
    ocio = pytest.importorskip("PyOpenColorIO", reason="an independent ASC CDL")
    transform = ocio.CDLTransform()
    transform.setStyle(ocio.CDL_ASC)
    transform.setSlope(parameters["slope"])
    transform.setOffset(parameters["offset"])
    transform.setPower(parameters["power"])
    transform.setSat(parameters["saturation"])
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    processor = processor.getOptimizedCPUProcessor(ocio.OPTIMIZATION_NONE)
    out = np.ascontiguousarray(codes, np.float32)
    processor.applyRGB(out)
    return out


@pytest.mark.parametrize(
    ("parameters", "code", "expected"),
    [
        (SET_1, (0.25, 0.5, 0.75), (0.422056, 0.401466, 0.035820)),
        (SET_1, (0.3278, 0.01, 1.0), (0.609399, 0.0, 0.113130)),
        (SET_1, (0.0, 0.8, 0.99), (0.0, 0.746748, 0.018691)),
        (SET_1, (0.0, 0.0, 0.0), (0.071827, 0.0, 0.070533)),
        (SET_2, (0.65, 0.55, 0.2), (0.745644, 0.639197, 0.264149)),
    ],
)
def test_published_values(parameters, code, expected):
    # values of an "independent implementation of the ASC CDL", as stated in the OpenColorIO
    # project's tests/cpu/ops/cdl/CDLOp_tests.cpp
    np.testing.assert_allclose(decided([code], **parameters)[0], expected, atol=4e-6)


@pytest.mark.parametrize("parameters", [SET_1, SET_2])
def test_every_code_is_as_another_library_has_it(parameters):
    codes = np.random.default_rng(0).uniform(0, 1, (20000, 3))
    codes[:600] = np.round(codes[:600])
    expected = by_another_library(codes, parameters)
    np.testing.assert_allclose(decided(codes, **parameters), expected, atol=5e-5)


def test_a_decision_made_on_a_delivery_gives_the_same_in_a_recipe():
    look = {"exposure": {"stops": 0.5}, "tone_curve": {"contrast": 1.3, "white": 4.0}}
    output = Output(format="tiff")
    original = frame(scene(96, 128))
    before = render(original, recipe(**look), output).array.reshape(-1, 3) / 65535
    inside = render(original, recipe(**look, cdl=SET_2), output).array.reshape(-1, 3) / 65535
    assert np.abs(inside - by_another_library(before, SET_2)).max() < 3e-4


def test_what_changes_something_stays_within_srgb():
    original = frame(scene(96, 128))
    wide = render(original, recipe(cdl={"saturation": 1.5}), Output("tiff", "bt2020")).array
    linear = transfer.decode("bt2020", wide.reshape(-1, 3) / 65535)
    linear = linear @ spaces.rgb_to_rgb(spaces.SPACES["bt2020"], cdl.SPACE).T
    assert linear.min() > -1e-4
    assert linear.max() < 1 + 1e-4


def test_the_identity_is_left_out():
    assert cdl.prepare(cdl.Cdl(), None) is None


def test_black_stays_black_under_any_power():
    assert decided([(0, 0, 0)], power=[0.01, 0.5, 100]) == pytest.approx(0, abs=1e-7)


@pytest.mark.parametrize("code", [1e-6, 1e-3, 0.1, 0.4])
def test_dark_codes_are_black_under_a_large_power(code):
    """0.4 ** 100 is 1.6e-40: less than a float32 holds, and no code."""
    assert decided([[code] * 3], power=[100, 100, 100]) == pytest.approx(0, abs=1e-7)


def test_a_small_power_keeps_the_order_of_dark_codes():
    greys = np.repeat(np.geomspace(1e-6, 1, 200)[:, None], 3, axis=1)
    rising = decided(greys, power=[0.3, 0.3, 0.3])[:, 1]
    assert (np.diff(rising) > 0).all()


def test_odd_shapes_are_corners_of_a_larger_picture():
    rng, constants = np.random.default_rng(3), cdl.prepare(cdl.Cdl(**SET_1), None)
    whole = np.float32([rng.random((17, 4097)), *rng.uniform(-0.2, 0.2, (2, 17, 4097))])
    decided_whole = cdl.apply(whole, constants)
    for rows, columns in ODD_SHAPES:
        piece = np.ascontiguousarray(whole[:, :rows, :columns])
        out, kept = guarded(lambda lab: cdl.apply(lab, constants), piece)
        np.testing.assert_array_equal(out, decided_whole[:, :rows, :columns])
        np.testing.assert_array_equal(kept, piece)
