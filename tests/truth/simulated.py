"""Cameras that never were: sensitivities at random, on which the rule for bluer light was chosen.

Run as ``PYTHONPATH=tests:demo_images python -m truth.simulated``, this prints what other numbers
than `grading.colour.camera.EXTRAPOLATED` and `ADAPTING` would do. The measured cameras, which judge
the rule, have no part in it.
"""

from functools import cache

import numpy as np

from grading.colour import camera as rule
from grading.colour.camera import camera_to_working, neutral_to_xy
from grading.colour.difference import delta_e_2000
from grading.colour.spaces import WORKING, rgb_to_xyz, xyz_to_xy
from grading.frame import Calibration, Camera
from truth import spectra

WAVELENGTHS = np.arange(380.0, 781.0, 5.0)
FILTERS = (600.0, 532.0, 462.0)
"""Middles of the three filters, nm; each camera has its own about them."""


@cache
def sensitivities(seed):
    """A camera of three filters over silicon, shape (81, 3): skewed lobes with cross-talk and
    ripples, cut off in the ultraviolet and infrared (common practice, no source)."""
    rng = np.random.default_rng(seed)
    filters = [_lobe(rng, middle) for middle in FILTERS]
    mixed = (np.eye(3) + np.abs(rng.normal(0, 0.06, (3, 3)))) @ filters
    cut = _edge(rng.uniform(395, 420), 7) * (1 - _edge(rng.uniform(640, 700), 12))
    alike = np.exp(-(((WAVELENGTHS[:, None] - WAVELENGTHS) / 18) ** 2) / 2) + 1e-6 * np.eye(81)
    ripples = np.exp(0.08 * np.linalg.cholesky(alike) @ rng.normal(size=(81, 3)))
    return (mixed * cut).T * ripples


def _lobe(rng, middle):
    offset = WAVELENGTHS - middle - rng.normal(0, 11)
    widths = np.where(offset < 0, rng.uniform(20, 42), rng.uniform(27, 55))
    return np.exp(-(np.abs(offset / widths) ** rng.uniform(1.7, 2.6)) / 2)


def _edge(place, width):
    return 1 / (1 + np.exp((place - WAVELENGTHS) / width))


@cache
def calibration(seed, name):
    """Its matrix for one light, and that light."""
    power = spectra.light(name)
    xy = xyz_to_xy(spectra.white_xyz(power))
    matrix = spectra.fitted_matrix(sensitivities(seed), power)
    return Calibration({"A": 2856.0}.get(name, 6504.0), matrix, xy)


def measure(seed, name):
    """Beyond what a matrix of the very light gives, mean CIEDE2000 of the 99 surfaces of
    CIE 224:2017 as shot, with D65's matrix and with A's and D65's; then the cast of a grey
    when the light is stated, with both; shape (4,)."""
    power, response = spectra.light(name), sensitivities(seed)
    surfaces = spectra.unseen_patches(spectra.UNSEEN[0])
    seen = (surfaces * power) @ response / (power @ response[:, 1])
    white = power @ response / (power @ response[:, 1])
    aim, xy = spectra.true_lab(surfaces, power), xyz_to_xy(spectra.white_xyz(power))
    errors, casts = [], []
    for names in ((name,), ("D65",), ("A", "D65")):
        camera = Camera(tuple(calibration(seed, each) for each in names), np.ones(3))
        matrix = rgb_to_xyz(WORKING) @ camera_to_working(camera, neutral_to_xy(camera, white))
        errors.append(delta_e_2000(spectra.to_lab(seen @ matrix.T), aim).mean())
        grey = rgb_to_xyz(WORKING) @ camera_to_working(camera, xy) @ white
        lab = spectra.to_lab(0.18 * grey / grey[1])
        casts.append(delta_e_2000(lab, lab * (1, 0, 0)))
    return np.array([*(np.array(errors[1:]) - errors[0]), *casts[1:]])


def _print_choices(seeds=range(24), lights=("9000 K", "12000 K", "20000 K")):
    print("extrapolated, adapting; as shot: median, 90 %; cast: median, 90 %")
    chosen = rule.EXTRAPOLATED, rule.ADAPTING
    choices = [(share, chosen[1]) for share in (0.0, 0.5, 0.7, 0.8, 0.85, 0.9, 1.0)]
    for choice in choices + [(chosen[0], mired) for mired in (200.0, 250.0, 450.0, 1e9)]:
        rule.EXTRAPOLATED, rule.ADAPTING = choice
        found = np.array([measure(seed, name)[[1, 3]] for seed in seeds for name in lights])
        quantiles = np.quantile(found, (0.5, 0.9), axis=0)
        print(*choice, quantiles[:, 0].round(3), quantiles[:, 1].round(2), flush=True)
    rule.EXTRAPOLATED, rule.ADAPTING = chosen


if __name__ == "__main__":
    _print_choices()
