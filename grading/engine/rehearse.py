"""Every kernel carried out once on next to nothing, so that its machine code is made and kept.

A rehearsal calls a kernel with arguments of the types that the engine gives it, for which alone the
code is made. Two that need one kernel for other types are one rehearsal: Numba may mix up what two
processes keep of a kernel at the same time.
"""

import hashlib
import os
import sys
from pathlib import Path

import numba
import numpy as np
from llvmlite import binding

from grading import kernels
from grading.colour import oklab, transfer
from grading.colour.gamut import gamut
from grading.develop.demosaic import missing_colours, unwoven
from grading.kernels.integrity.dct_codes import end_of_scan
from grading.kernels.primitives import aligned
from grading.kernels.raw.highlights import highlight_guide
from grading.kernels.raw.lights import mend_lights
from grading.kernels.raw.lossless_jpeg import Scan, decode
from grading.kernels.raw.mosaic import Sensor, bin_tile, weave
from grading.kernels.raw.patches import green_patches
from grading.kernels.raw.rebuild import rebuild_highlights, rebuild_sites
from grading.region import Region

SIDE = 64
GAINS = np.ones(3, np.float32)


def _tile(planes=3):
    tile = aligned((planes, SIDE, SIDE))
    tile[:] = 0.5
    return tile


def _raw():
    """A mosaic that is clipped in the middle, and its sensor without noise."""
    mosaic = np.full((SIDE, SIDE), 9000, np.uint16)
    mosaic[24:40, 24:40] = 65535
    levels, line = np.full(4, 1 / 65535, np.float32), np.zeros(SIDE, np.float32)
    return mosaic, Sensor((0, 0), 0 * levels, levels, line, line, (0.0, 0.0))


def _mosaic():
    mosaic, sensor = _raw()
    planes, _, _ = unwoven(mosaic, 0, SIDE, 0, SIDE, sensor, GAINS)
    green, colours = np.zeros((2, *planes.shape[1:]), np.float32), np.stack([planes, planes])
    weave(planes, green, colours, 18, 18, _tile())


def _lights():
    green, colours = np.zeros((2, SIDE, SIDE), np.float32), np.zeros((2, 4, SIDE, SIDE), np.float32)
    mend_lights(_tile(4), (0.0, 0.0), GAINS, green, colours)


def _highlights():
    mosaic, sensor = _raw()
    guide = highlight_guide(mosaic, sensor, GAINS)
    rebuild_sites(_tile(4), 0, 0, sensor, guide, GAINS)
    rebuild_highlights(_tile(), 0, 0, guide, sensor, GAINS, 2)


def _reduced():
    mosaic, sensor = _raw()
    bin_tile(mosaic, 0, SIDE // 2, 0, SIDE // 2, sensor)


def _grid():
    grid = kernels.grid.bilateral_grid(_tile(), 0.02)
    return kernels.grid.spread(grid, 1, 0, SIDE, 0, SIDE)


def _colour_noise():
    matrix, form, shares = np.eye(3, dtype=np.float32), np.ones(4, np.float32), GAINS
    planes = kernels.coarse_colour.coarse_colour(_tile(), matrix, form, form, 1)
    planes = kernels.base.interpolate(planes, 1, 0, SIDE, 0, SIDE)
    one = np.float32(1)
    kernels.colour_noise.reduce_colour_noise(
        _tile(), planes, matrix, matrix, form, shares, one, one, shares[:2]
    )


def _noise():
    one, matrix, limits = np.float32(1), np.eye(3, dtype=np.float32), np.ones((8, 8), np.float32)
    kernels.noise.coarse_changes(_tile(), _tile(), matrix, matrix, one, one)
    kernels.noise.reduce_noise(
        _tile(), _tile(), 0, 0, (0, SIDE, 0, SIDE), matrix, matrix, one, one, limits,
        np.stack([limits, limits]), limits, GAINS, limits, limits, GAINS[:2], GAINS[:2],
        np.ones(4, np.float32), GAINS[:2],
    )  # fmt: skip


def _fringes():
    place = Region.whole(SIDE, SIDE)
    kernels.fringes.bound_colours(_tile(), place, place, 1, GAINS)


def _sharpen():
    one = np.float32(1)
    kernels.sharpen.sharpen(_tile(), GAINS, kernels.sharpen.blur_taps(0.5), one, GAINS, one)


def _vignetting():
    maps = kernels.nodes.at_nodes(_tile(1)[:, :2, :2], Region.whole(SIDE, SIDE), SIDE, SIDE)
    circle, terms = (0.0, 0.0, 1.0), (0.0,) * 5
    kernels.lens.multiply_by_gain(_tile(), maps, Region.whole(SIDE, SIDE), circle, terms, terms, 1)


def _lateral_colour():
    shift = kernels.lateral.Shift(0.0, 0.0, 1.0, (0.0,) * kernels.lateral.TERMS, 0.0, 0.0, 64)
    whole = Region.whole(SIDE, SIDE)
    kernels.lateral.shift_colours(_tile(), whole, whole, shift, None)


def _codes(*kinds):
    curve = transfer.coefficients("srgb")
    for kind in kinds:
        codes = np.empty((SIDE, SIDE, 3), kind)
        kernels.output.to_codes(_tile(), gamut("srgb"), curve, codes, 0, 0, True)


def _resized(*kinds):
    taps = kernels.resampling.taps(SIDE, SIDE // 2)
    whole, _ = kernels.gamut.bring_into_gamut(_tile(), gamut("srgb"))
    between, light = (np.empty((3, SIDE // 2, n), np.float32) for n in (SIDE, SIDE // 2))
    kernels.resampling.resample_columns(whole, *taps, between)
    kernels.resampling.resample_rows(between, *taps, light)
    for kind in kinds:
        codes = np.empty((SIDE // 2, SIDE // 2, 3), kind)
        kernels.output.encode(light, transfer.coefficients("srgb"), codes, 0, 0, True)


def _smooth_light():
    kernels.smooth_light.smooth_light(_tile(), 0.1, 0.0, 0.0, 1)
    kernels.base.stops_from_grey(_tile())
    matrix = np.eye(3, dtype=np.float32)
    kernels.picture.to_oklab(_tile(), _tile(), matrix, matrix)


def _detail():
    kernels.base.box_mean(np.ones((SIDE, SIDE)), 1)
    kernels.base.interpolate(_tile(2), 1, 0, SIDE, 0, SIDE)


def _turned():
    count = SIDE // kernels.lines.STEP + 2
    down = np.repeat(kernels.lines.STEP * np.arange(float(count))[:, None], count, axis=1)
    light, _ = kernels.gamut.bring_into_gamut(_tile(), gamut("srgb"))
    weights, out = kernels.window.polynomials(1.0), np.empty((3, SIDE, SIDE), np.float32)
    kernels.lines.sample_planes(
        light, (SIDE, SIDE), (down, 0 * down), (weights, weights), (0, 0), out
    )


def _packed():
    scan = Scan(16, 1, 1, np.zeros((1, 16), np.uint8), np.zeros((1, 1), np.uint16), 1, 0)
    decode(np.frombuffer(bytes(9), np.uint8), 0, scan, np.zeros(1, np.uint16), 0, 1)


def _scans():
    units, codes = np.zeros((1, 8), np.int64), np.zeros((2, 65536), np.uint16)
    stream, known = np.frombuffer(bytes(9), np.uint8), np.zeros(1, np.uint64)
    end_of_scan(stream, 0, units, 1, 0, codes, (0, 63, -1), 0, known)


def _decision():
    to_lab = oklab.WORKING_TO_LMS, oklab.LMS_TO_OKLAB
    curve = transfer.coefficients("srgb")
    kernels.cdl.apply_decision(_tile(), np.ones((3, 3)), 1.0, gamut("srgb"), to_lab, curve)


REHEARSALS = {
    "noise": _noise,
    "highlights": _highlights,
    "lights": _lights,
    "lateral_colour": _lateral_colour,
    "vignetting": _vignetting,
    "scans": _scans,
    "turned": _turned,
    "colours": lambda: missing_colours(_tile(4), GAINS),
    "colour_noise": _colour_noise,
    "both codes": lambda: _codes(np.uint8, np.uint16),
    "8-bit codes": lambda: _codes(np.uint8),
    "16-bit codes": lambda: _codes(np.uint16),
    "mosaic": _mosaic,
    "apply_decision": _decision,
    "bilateral_grid": _grid,
    "change_detail": lambda: kernels.detail.change_detail(_tile(), _grid(), 1.0, 0.0, 0.0, 0.0),
    "both resized": lambda: _resized(np.uint8, np.uint16),
    "8-bit resized": lambda: _resized(np.uint8),
    "16-bit resized": lambda: _resized(np.uint16),
    "mix": lambda: kernels.light.mix(_tile(), np.eye(3)),
    "apply_tone_curve": lambda: kernels.picture.apply_tone_curve(
        _tile(), np.ones(9, np.float32), 4.0, oklab.WORKING_TO_LMS, oklab.LMS_TO_OKLAB
    ),
    "change_by_hue": lambda: kernels.picture.change_by_hue(
        _tile(), np.ones((3, 9), np.float32), 0.1
    ),
    "fringes": _fringes,
    "sharpen": _sharpen,
    "packed": _packed,
    "reduced": _reduced,
    "lift": lambda: kernels.detail.lift(_tile(), _grid(), 1.0, 1.0, 5.0, 4.0),
    "shift_by_lightness": lambda: kernels.picture.shift_by_lightness(_tile(), 1.0, np.ones((3, 3))),
    "grain": lambda: kernels.grain.add_grain(_tile(), 0, 0, GAINS, np.float32(0.1)),
    "patches": lambda: green_patches(_raw()[0], (0, 5), 4, (0.0, 0.0), 0, 65535),
    "affine": lambda: kernels.light.affine(_tile(), 1.0, 0.0),
    "blend": lambda: kernels.light.blend(_tile(), _tile(), _tile()[0]),
    "smooth_light": _smooth_light,
    "detail": _detail,
    "grown": lambda: kernels.base.interpolate(_tile(1), 1, 0, SIDE, 0, SIDE),
    "window": lambda: kernels.mask.window(_tile()[0], 0.0, 1.0, 0.1),
    "hue": lambda: kernels.mask.hue(_tile()[0], _tile()[0], np.ones(9, np.float32), 1.0),
    "vignette": lambda: kernels.vignette.fall_off(
        _tile(), 0, SIDE, 0, SIDE, (4, 4), np.eye(2), 2.0, 0.0, 1.0
    ),
    "outline": lambda: kernels.outline.outline(
        0, 9, 0, 9, np.array([[1.0, 1.0], [7.0, 1.0], [1.0, 7.0], [1.0, 1.0]]), 0.0, 1.0, True
    ),
    "gradient": lambda: kernels.mask.ramp(0, 9, 0, 9, (0, 0), (1, 0), 1.0),
    "ellipse": lambda: kernels.mask.oval(0, 9, 0, 9, (4, 4), (4, 4), 0.0, 1.0),
}
"""Names of rehearsals, those that take longest first."""


def unrehearsed(names):
    """Those of some rehearsals whose machine code is not there yet; those that take longest first.

    There are none where no place is found to keep it.
    """
    if kernels.light.blend.stats.cache_path is None:
        return []
    return [name for name in REHEARSALS if name in names and not _note(name).exists()]


def _note(name):
    """A file whose name says for what processor and of which sources the code was made."""
    sources = [path.stat() for path in sorted(Path(kernels.__file__).parent.rglob("*.py"))]
    made_of = [
        sys.implementation.cache_tag, numba.__version__, binding.get_host_cpu_name(),
        numba.config.CPU_NAME, numba.config.CPU_FEATURES,
        *((each.st_mtime_ns, each.st_size) for each in sources),
    ]  # fmt: skip
    digest = hashlib.sha256(repr(made_of).encode()).hexdigest()
    return Path(kernels.light.blend.stats.cache_path, f"{name} {digest[:16]}.ready")


def main(names):
    """Take numbers of rehearsals from standard input as long as there are any.

    The kernels of each are compiled, a note beside their machine code says so, and it is reported.
    """
    while number := os.read(0, 1):
        name = names[number[0]]
        REHEARSALS[name]()
        _note(name).touch()
        os.write(1, number)


if __name__ == "__main__":
    main(sys.argv[1:])
