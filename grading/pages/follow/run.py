"""Follow a recipe or a shoot until the person ends it."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from os import PathLike
from pathlib import Path
from threading import Thread

from grading.evening.kind import is_shoot
from grading.pages.follow.followed import FollowedRecipe, FollowedShoot
from grading.pages.follow.server import FollowServer
from grading.pages.follow.session import Session
from grading.recipe.inheritance import find_recipe
from grading.yaml_text import read_text


@contextmanager
def following(
    recipe: str | PathLike[str],
    originals: Sequence[str | Path],
    port: int = 0,
    accept_dark: bool = False,
) -> Iterator[FollowServer]:
    """A server that answers on a thread of its own; its session is still to be followed.

    Parameters
    ----------
    recipe : path-like
        A file, or the name of a shipped look; or a shoot file.
    originals : sequence of path-like
        Of a shoot, names of the frames that are shown; all if there are none.
    port : int
        0 for any that is free.

    Yields
    ------
    FollowServer

    Raises
    ------
    RecipeError
        If there is no such recipe; one that is wrong is shown on the page instead.
    OutputError
        If the port is taken.
    """
    path = find_recipe(str(recipe))
    read_text(path)
    followed = (
        FollowedShoot(path, list(map(str, originals)), accept_dark)
        if is_shoot(path)
        else FollowedRecipe(path, originals)
    )
    session = Session(followed, accept_dark)
    with FollowServer(session, port) as server:
        Thread(target=server.serve_forever, args=(0.1,), daemon=True).start()
        try:
            yield server
        finally:
            session.stop()
            server.shutdown()
