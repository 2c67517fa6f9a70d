"""Whether a recipe, one that it extends, or a shoot file was saved.

The files are read over and over and compared by content. They are small, so that costs less than
a thousandth of a processor, and it holds for every way of saving: in place, by a new file renamed
over the old one, on a network drive whose server reports nothing, twice within one tick of the file
system's clock.
"""

import os
import time
from collections.abc import Iterable
from pathlib import Path
from threading import Event

from grading.errors import RecipeError
from grading.recipe.inheritance import LONGEST_CHAIN, parent_places
from grading.regular_file import open_regular
from grading.yaml_text import RECIPE, load_yaml, read_text

PAUSE = 0.015
"""Seconds between two readings of the files."""

GRACE = 0.15
"""Seconds in which a recipe that cannot be read may still be in the middle of a save."""


def files_of(path: Path) -> list[Path]:
    """The files that a recipe is made of, as far as they can be followed.

    Unlike `grading.recipe.inheritance.read_chain` this accepts a chain that is broken: it ends
    with the file that cannot be read, so that a repair is noticed.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of Path
        The recipe, those that it extends, the colour decisions and camera files that they read,
        and the places that are looked at first for what is extended and where nothing is yet.
    """
    chain, others = [path], []
    while len(chain) <= LONGEST_CHAIN:
        places, files = _names(chain[-1])
        found = next((i for i, place in enumerate(places) if os.path.isfile(place)), len(places))
        others += places[:found] + files
        if found == len(places) or places[found] in chain:
            break
        chain.append(places[found])
    return chain + others


def files_of_shoot(path: Path) -> list[Path]:
    """The files that a shoot file's recipes are made of; not its originals.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of Path
        The shoot file, the files that its notes read, and those of each look, with the places where
        a look is sought and nothing is yet.
    """
    data = _mapping(path)
    found = [path]
    for kind in ("groups", "frames"):
        notes = data.get(kind)
        for note in notes.values() if isinstance(notes, dict) else ():
            looks = note.get("looks") if isinstance(note, dict) else None
            for keys in (note, *(looks.values() if isinstance(looks, dict) else ())):
                found += _read_by(keys, path)
    spots = data.get("spots")
    named = (data.get("marks"), *(spots if isinstance(spots, list) else (spots,)))
    found += [path.parent / name for name in named if isinstance(name, str)]
    looks = data.get("looks")
    for look in looks if isinstance(looks, list) else ():
        if isinstance(look, str):
            places = parent_places(look, path)
            sought = next((i for i, p in enumerate(places) if os.path.isfile(p)), len(places))
            found += places[:sought]
            found += files_of(places[sought]) if sought < len(places) else []
    return list(dict.fromkeys(found))


def _names(path):
    """Where the recipe that a recipe extends may be, and the files that it reads."""
    data = _mapping(path)
    extends = data.get("extends")
    return (
        parent_places(extends, path) if isinstance(extends, str) else [],
        _read_by(data, path),
    )


def _mapping(path):
    """What a file states, as far as it can be read."""
    try:
        data, _ = load_yaml(read_text(path), path)
    except RecipeError:
        return {}
    return data if isinstance(data, dict) else {}


def _read_by(keys, path):
    """The files that keys of a recipe name."""
    cameras = _under(keys, "white_balance", "cameras")
    named = [_under(keys, "cdl", "file"), *(cameras if isinstance(cameras, list) else ())]
    return [path.parent / name for name in named if isinstance(name, str)]


def _under(data, stage, key):
    parameters = data.get(stage) if isinstance(data, dict) else None
    return parameters.get(key) if isinstance(parameters, dict) else None


def contents(files: Iterable[Path]) -> dict[Path, bytes | None]:
    """Bytes of each file, None for one that cannot be read."""
    return {path: _content(path) for path in files}


def _content(path):
    try:
        with open_regular(path) as file:
            return file.read(RECIPE.size + 1)
    except OSError:
        return None


def changed(seen: dict, seconds: float, stopped: Event) -> bool:
    """Wait until a file is no longer as it was seen.

    Parameters
    ----------
    seen : dict
        From `contents`.
    seconds : float
        Longest wait.
    stopped : threading.Event
        Ends the wait.

    Returns
    -------
    bool
        Whether one changed.
    """
    end = time.monotonic() + seconds
    while contents(seen) == seen:
        if stopped.wait(PAUSE) or time.monotonic() > end:
            return False
    return True
