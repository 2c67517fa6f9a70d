"""HTML pages from templates: each one file, with style, script and pictures inside it."""

from functools import cache

from grading.pages import words


@cache
def _environment():
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("grading.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "percent": words.percent,
        "signed": words.signed,
        "capture": words.capture,
        "recipe_name": words.recipe_name,
    }
    return environment


def page(template, **values):
    """A page as UTF-8 bytes.

    Parameters
    ----------
    template : str
        File name in ``grading/pages/templates``.
    **values
        What the template speaks of; text is escaped. A file name that is no text (POSIX allows
        any bytes) shows a question mark for what cannot be written.
    """
    return _environment().get_template(template).render(values).encode("utf-8", "replace")
