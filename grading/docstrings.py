"""Docstrings, also where Python leaves them out (``python -OO``)."""

import ast
import inspect
from functools import cache
from textwrap import dedent
from typing import Any


@cache
def docstring(thing: Any) -> str | None:
    """The docstring of a module, class or function; read from its source if it was left out.

    Parameters
    ----------
    thing : module, class or function

    Returns
    -------
    str or None
        Without the indentation that it has in the source; None where there is none.
    """
    if thing.__doc__:
        return inspect.cleandoc(thing.__doc__)
    try:
        tree = ast.parse(dedent(inspect.getsource(thing)))
    except (OSError, TypeError):  # made at run time
        return None
    return ast.get_docstring(tree if inspect.ismodule(thing) else tree.body[0])
