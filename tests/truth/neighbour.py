"""Data that another folder's tests already hold, so that nothing is stated twice."""

from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path


def neighbour(path):
    """A test module of another folder, for its data."""
    spec = spec_from_file_location(Path(path).stem, Path(__file__).parents[1] / path)
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
