"""Chromaticities of spectra by the closed form, beside the tables of the CIE."""

import numpy as np
import pytest

from grading.colour.observer import spectrum_to_xy
from grading.colour.spaces import xyz_to_xy
from truth import spectra

LIGHTS = ("A", "D50", "D65", "FL2", "FL11", "LED-B3", "LED-BH1", "LED-RGB1", "LED-V1")


@pytest.mark.parametrize("name", LIGHTS)
def test_lights_of_the_cie(name):
    """CIE 015 illuminants through the table of the CIE 1931 observer, as colour-science has it.

    Both see 380 to 780 nm: power is 0 at the samples beyond.
    """
    power = spectra.light(name)
    found = spectrum_to_xy(375, 5, [0, *power, 0])
    expected = xyz_to_xy(spectra.white_xyz(power))
    np.testing.assert_allclose(found, expected, rtol=0, atol=0.002)


def test_between_samples_linear_and_beyond_constant():
    """As the DNG specification 1.7 reads a spectrum, IlluminantData1."""
    few = spectrum_to_xy(500, 100, [1, 2])
    filled = np.interp(np.arange(360, 831), [500, 600], [1, 2])
    np.testing.assert_allclose(few, spectrum_to_xy(360, 1, filled))


@pytest.mark.parametrize("spectrum", [(400, 10, [1]), (400, 0, [1, 1]), (400, 10, [0, 0])])
def test_no_spectrum(spectrum):
    with pytest.raises(ValueError, match="spectrum"):
        spectrum_to_xy(*spectrum)
