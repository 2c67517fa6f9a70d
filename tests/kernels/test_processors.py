"""The same bits from machine code for other processors, without their wide registers or fma."""

import hashlib
import os
import platform
import subprocess
import sys

import numpy as np
import pytest

from grading import kernels
from grading.colour import oklab, transfer
from grading.colour.gamut import gamut
from kernels.raws import develop

PROCESSORS = {"generic": "+sse2", "haswell": "+avx2,+fma"}
"""As LLVM calls them: one that has none of our instructions, and one of common age."""


def light():
    """Light that went through the arithmetic that all kernels share."""
    light = np.random.default_rng(4).uniform(-0.01, 1.5, (3, 37, 131)).astype(np.float32)
    grid = kernels.grid.bilateral_grid(light, 0.05)
    placed = kernels.grid.spread(grid, 1, 0, 37, 0, 131)
    light = kernels.detail.change_detail(light, placed, 0.5, 1e-3, 1e-5, 1.0)
    return kernels.detail.lift(light, placed, 1.0, -0.5, 5.0, 4.0)


def picture():
    """That light as a picture and as codes."""
    factors = np.linspace(0.8, 1.1, 1025).astype(np.float32)
    matrices = oklab.WORKING_TO_LMS, oklab.LMS_TO_OKLAB
    lab = kernels.picture.apply_tone_curve(light(), factors, 4.0, *matrices)
    lab = kernels.picture.shift_by_lightness(lab, 0.8, np.full((3, 3), 0.01))
    codes = np.empty((37, 131, 3), np.uint16)
    kernels.output.to_codes(lab, gamut("srgb"), transfer.coefficients("srgb"), codes, 0, 0, False)
    return np.concatenate([lab.ravel(), codes.ravel()])


def raw():
    """A noisy mosaic, developed."""
    mosaic = np.random.default_rng(6).normal(9000, 900, (45, 61)).astype(np.uint16)
    return develop(mosaic, (1.8, 1.0, 1.3), noise=(1e-3, 1e-5))


def digest(name):
    return hashlib.sha256(globals()[name]().tobytes()).hexdigest()


@pytest.mark.skipif(platform.machine() not in ("x86_64", "AMD64"), reason="names of x86 processors")
@pytest.mark.parametrize(
    "what",
    [
        "light",
        pytest.param("picture", marks=pytest.mark.slow),
        pytest.param("raw", marks=pytest.mark.slow),
    ],
)
@pytest.mark.parametrize("name", PROCESSORS)
def test_other_processors_compute_the_same_bits(name, what, tmp_path):
    script = f"from kernels.test_processors import digest; print(digest({what!r}))"
    processor = {"NUMBA_CPU_NAME": name, "NUMBA_CPU_FEATURES": PROCESSORS[name]}
    places = {"NUMBA_CACHE_DIR": str(tmp_path), "PYTHONPATH": os.pathsep.join(sys.path)}
    run = subprocess.run(
        [sys.executable, "-c", script],
        env=os.environ | processor | places,
        capture_output=True,
        text=True,
    )
    assert run.stdout.strip() == digest(what), run.stderr
