"""Non-destructive, batch colour grading of raw photographs, driven by recipe files."""

from importlib import import_module

_HOMES = {
    "load_recipe": "grading.recipe.load",
    "open_frame": "grading.files.originals",
    "render": "grading.engine.execute",
    "Output": "grading.engine.output",
}

__all__ = ["Output", "__version__", "load_recipe", "open_frame", "render"]


def __getattr__(name):
    """Import what is asked for only then, so that a small command starts at once."""
    if name == "__version__":
        from importlib.metadata import version

        return version("grading")
    if name in _HOMES:
        return getattr(import_module(_HOMES[name]), name)
    raise AttributeError(f"module 'grading' has no attribute {name!r}")


def __dir__():
    return sorted(__all__)
