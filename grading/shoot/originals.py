"""Which originals are meant: files, folders and patterns, in natural order."""

import glob
import re
from pathlib import Path

from grading.errors import OriginalError

RAW = frozenset(
    "3fr arw cr2 cr3 crw dcr dng erf fff gpr iiq kdc mef mos mrw nef nrw orf pef raf raw rw2 rwl"
    " sr2 srf srw x3f".split()
)
RENDERED = frozenset("jpeg jpg png tif tiff".split())
ENDINGS = RAW | RENDERED
"""What a file in a folder ends in to be taken as an original; a named file always is one."""


def find_originals(arguments):
    """Originals named one by one, by folder or by pattern.

    A folder stands for the originals directly in it. A pattern holds ``*``, ``?`` or ``[``;
    ``**`` reaches into folders below. What is named twice counts once.

    Parameters
    ----------
    arguments : iterable of str or path-like

    Returns
    -------
    list of Path
        In natural order: frame 9 before frame 10.

    Raises
    ------
    OriginalError
        If an argument stands for nothing.
    """
    found = {}
    for argument in map(str, arguments):
        for path in sorted(_matches(argument), key=natural_key):
            found.setdefault(path.resolve(), path)
    return sorted(found.values(), key=natural_key)


def is_rendered(path):
    """Whether an original is a finished picture rather than a raw, by the ending of its name."""
    return path.suffix[1:].lower() in RENDERED


def natural_key(path):
    """Sorting key that takes digits as numbers and ignores case."""
    parts = re.split(r"(\d+)", str(path).casefold())
    return [(int(part) if part.isdecimal() else 0, part) for part in parts], str(path)


def _matches(argument):
    path = Path(argument)
    if path.is_file():
        return [path]
    if path.is_dir():
        inside, nothing = path.iterdir(), "no originals lie directly in this folder"
        remedy = f"for folders below, quote a pattern such as '{path}/**/*.dng'"
    elif glob.has_magic(argument):
        inside = map(Path, glob.iglob(argument, recursive=True))
        nothing, remedy = "no original matches this pattern", "check the pattern"
    else:
        raise OriginalError("there is no such file", place=argument, remedy="check the path")
    matches = _originals_in(inside)
    if not matches:
        allowed = "files ending in " + ", ".join(sorted(ENDINGS))
        raise OriginalError(nothing, place=argument, allowed=allowed, remedy=remedy)
    return matches


def _originals_in(paths):
    return [
        path
        for path in paths
        if path.suffix[1:].lower() in ENDINGS
        and not path.name.startswith(".")
        and path.is_file()
    ]
