"""Transfer curves against the standards' figures and colour-science."""

import numpy as np
import pytest

from grading.colour.transfer import coefficients, decode, encode

CURVES = ("linear", "srgb", "bt2020", "oprgb")


@pytest.mark.parametrize(
    ("name", "linear", "code"),
    [
        # IEC 61966-2-1:1999: the knee, and the curve written out
        ("srgb", 0.0031308, 0.04045),
        ("srgb", ((0.5 + 0.055) / 1.055) ** 2.4, 0.5),
        ("srgb", 0.2140411, 0.5),
        ("srgb", 0.2158605, 128 / 255),
        ("srgb", 0.18, 0.4613561),
        # ITU-R BT.2020-2 table 4: 4.5 E below beta, alpha E^0.45 - (alpha - 1) above
        ("bt2020", 0.01, 0.045),
        ("bt2020", 0.018053968510807, 4.5 * 0.018053968510807),
        ("bt2020", 0.18, 1.09929682680944 * 0.18**0.45 - 0.09929682680944),
        # IEC 61966-2-5:2007: a pure power of 2 + 51/256
        ("oprgb", 0.5 ** (2 + 51 / 256), 0.5),
    ],
)
def test_published_values(name, linear, code):
    assert encode(name, linear) == pytest.approx(code, abs=4e-7)
    assert decode(name, code) == pytest.approx(linear, abs=4e-7)


def test_curves_are_those_of_colour_science():
    from colour.models import eotf_sRGB, oetf_BT2020

    codes = np.linspace(0, 1, 1001)
    np.testing.assert_allclose(decode("srgb", codes), eotf_sRGB(codes), rtol=0, atol=2e-8)
    # its BT.2020 has the standard's rounded alpha 1.0993 and beta 0.0181
    np.testing.assert_allclose(
        encode("bt2020", codes), oetf_BT2020(codes, is_12_bits_system=True), rtol=0, atol=1e-4
    )


@pytest.mark.parametrize("name", CURVES)
def test_curves_invert_mirror_and_rise(name):
    linear = np.linspace(-4, 4, 4002).reshape(3, -1)
    code = encode(name, linear)
    assert code.shape == linear.shape
    np.testing.assert_allclose(decode(name, code), linear, rtol=0, atol=1e-14)
    np.testing.assert_array_equal(encode(name, -linear), -code)
    assert (np.diff(code.ravel()) > 0).all()
    np.testing.assert_allclose(encode(name, [0, 1]), [0, 1], rtol=0, atol=1e-15)


@pytest.mark.parametrize("name", CURVES)
def test_parameters_are_continuous_at_the_knee(name):
    gamma, a, b, c, d = coefficients(name)
    assert (a * d + b) ** gamma == pytest.approx(c * d, abs=1e-7)


def test_other_curves_are_refused():
    with pytest.raises(ValueError, match="no transfer curve 'gamma'; allowed: linear"):
        decode("gamma", 0.5)
