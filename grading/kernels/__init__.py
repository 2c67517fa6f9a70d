"""Compiled primitives on planar tiles, one module for each subject: ``kernels.light.mix(...)``.

A module is imported when it is first named, so reading a recipe does not import the compiler.
"""

from importlib import import_module
from importlib.util import find_spec


def __getattr__(name):
    if find_spec(f"{__name__}.{name}") is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return import_module(f"{__name__}.{name}")
