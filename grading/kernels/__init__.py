"""Compiled primitives on planar tiles; a name is imported, and its loop compiled, at first use.

Reading a recipe never touches a kernel, so the compiler is not even imported for it.
"""

from importlib import import_module

_HOMES = {
    "scale": "light",
    "line": "light",
    "mix": "light",
    "blend": "light",
    "edge_aware_base": "base",
    "lift": "base",
    "interpolate": "base",
    "tone": "picture",
    "shift_by_lightness": "picture",
    "turn_by_hue": "picture",
    "decide": "cdl",
    "diamond_degrees": "diamond",
    "ramp": "mask",
    "oval": "mask",
    "to_codes": "output",
    "encode": "output",
    "bring_into_gamut": "gamut",
    "taps": "resampling",
    "resample_rows": "resampling",
    "resample_columns": "resampling",
}


def __getattr__(name):
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f"grading.kernels.{_HOMES[name]}"), name)
    globals()[name] = value
    return value
