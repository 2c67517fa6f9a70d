"""Choose frames of a shoot until the person ends it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from os import PathLike
from threading import Thread
from typing import Any

from grading.evening.load import load_shoot
from grading.pages.choose.server import ChooseServer
from grading.pages.choose.session import Choosing


@contextmanager
def choosing(
    shoot: str | PathLike[str], port: int = 0, **opening: Any
) -> Iterator[ChooseServer]:
    """A server that answers on a thread of its own.

    Parameters
    ----------
    shoot : path-like
    port : int
        0 for any that is free.
    **opening
        As `grading.open_frame` takes them.

    Yields
    ------
    ChooseServer

    Raises
    ------
    RecipeError
        For what is wrong with the shoot file or its marks file.
    OutputError
        If the port is taken.
    """
    session = Choosing(load_shoot(shoot, begins_marks=True), **opening)
    try:
        with ChooseServer(session, port) as server:
            Thread(target=server.serve_forever, args=(0.1,), daemon=True).start()
            yield server
            server.shutdown()
    finally:
        session.close()
