"""HTML pages from templates: each one file, with style, script and pictures inside it."""

from functools import cache
from typing import Any

from grading.pages import words
from grading.terminal import visible


@cache
def _environment():
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("grading.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_visible,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "percent": words.percent,
        "signed": words.signed,
        "capture": words.capture,
    }
    return environment


def _visible(value):
    """Text as `visible`, so that a name cannot turn the page around it; markup as it is."""
    return visible(value) if type(value) is str else value


def page(template: str, **values: Any) -> bytes:
    """A page as UTF-8 bytes.

    Parameters
    ----------
    template : str
        File name in ``grading/pages/templates``.
    **values
        What the template speaks of; text is escaped, and `grading.terminal.visible`.
    """
    return _environment().get_template(template).render(values).encode()
