"""Follow a recipe until the person ends it."""

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from os import PathLike
from pathlib import Path
from threading import Thread
from typing import Any

from grading.pages.follow.server import FollowServer
from grading.pages.follow.session import Session
from grading.recipe.inheritance import find_recipe
from grading.yaml_text import read_text


def follow(
    recipe: str | PathLike[str],
    originals: Sequence[Path],
    port: int = 0,
    announce: Callable[[str], Any] = print,
    accept_dark: bool = False,
) -> None:
    """Serve the page, and follow the recipe until interrupted.

    Parameters
    ----------
    recipe : path-like
        A file, or the name of a shipped look.
    originals : sequence of Path
    port : int
        0 for any that is free.
    announce : callable
        Given the page's address once it can be opened.
    accept_dark : bool
        Whether nearly black raws are taken, as `grading.open_frame` has it.

    Raises
    ------
    RecipeError
        If there is no such recipe; one that is wrong is shown on the page instead.
    OutputError
        If the port is taken.
    """
    with following(recipe, originals, port, accept_dark) as server:
        try:
            announce(server.url)
            server.session.follow()
        except KeyboardInterrupt:
            pass


@contextmanager
def following(
    recipe: str | PathLike[str],
    originals: Sequence[Path],
    port: int = 0,
    accept_dark: bool = False,
) -> Iterator[FollowServer]:
    """A server that answers on a thread of its own; its session is still to be followed.

    Yields
    ------
    FollowServer
    """
    path = find_recipe(str(recipe))
    read_text(path)
    session = Session(path, originals, accept_dark)
    with FollowServer(session, port) as server:
        Thread(target=server.serve_forever, args=(0.1,), daemon=True).start()
        try:
            yield server
        finally:
            session.stop()
            server.shutdown()
