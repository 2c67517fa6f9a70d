"""Which originals are meant: files, folders and patterns, in natural order."""

import glob
import os
import re
from collections import defaultdict
from pathlib import Path

from grading.errors import OriginalError
from grading.files.originals.lens import may_state_lens
from grading.shoot.earlier import is_output

RAW = frozenset(
    "3fr arw cr2 cr3 crw dcr dng erf fff gpr iiq kdc mef mos mrw nef nrw orf pef raf raw rw2 rwl"
    " sr2 srf srw x3f".split()
)
JPEG = frozenset("jpeg jpg".split())
RENDERED = frozenset("png tif tiff".split())
ENDINGS = RAW | JPEG | RENDERED
"""What a file in a folder ends in to be taken as an original; a named file always is one."""


def find_originals(arguments, pairs="raw"):
    """Originals named one by one, by folder or by pattern.

    A folder stands for the originals directly in it. A pattern holds ``*``, ``?`` or ``[``;
    ``**`` reaches into folders below; upper and lower case of its ending are alike. What is named
    twice counts once. Outputs of earlier runs, which sidecars show, are left out of folders and
    patterns.

    Parameters
    ----------
    arguments : iterable of str or path-like
    pairs : {"raw", "jpeg", "both"}
        What is taken where a raw and a JPEG of the same name lie in one folder.

    Returns
    -------
    list of Path
        Originals in natural order.
    list of str
        Sentences on the files that were left out.

    Raises
    ------
    OriginalError
        If an argument stands for nothing.
    """
    found, outputs = {}, set()
    for argument in map(str, arguments):
        paths, made = _matches(argument)
        outputs |= {path.resolve() for path in made}
        for path in sorted(paths, key=natural_key):
            found.setdefault(path.resolve(), path)
    paths = sorted(found.values(), key=natural_key)
    twins = camera_pairs(paths) if pairs != "both" else []
    left_out = {raw if pairs == "jpeg" else jpeg for raw, jpeg in twins}
    notes = []
    if outputs:
        notes.append(f"{_count(outputs, 'output')} of earlier runs left out")
    if left_out:
        what, other = ("raw file", "JPEG") if pairs == "jpeg" else ("JPEG", "raw file")
        notes.append(f"{_count(left_out, what)} left out, each of one exposure with a {other}")
    return [path for path in paths if path not in left_out], notes


def _count(items, what):
    return f"{len(items)} {what}{'s' if len(items) > 1 else ''}"


def camera_pairs(paths):
    """Pairs (raw, JPEG) of the same name in the same folder, as cameras write of one exposure.

    Parameters
    ----------
    paths : sequence of Path

    Returns
    -------
    list of (Path, Path)
    """
    raws = {_name(path): path for path in paths if _ending(path) in RAW}
    jpegs = [path for path in paths if _ending(path) in JPEG]
    return [(raws[_name(jpeg)], jpeg) for jpeg in jpegs if _name(jpeg) in raws]


def _name(path):
    return path.parent, path.stem.casefold()


def _ending(path):
    return path.suffix[1:].lower()


def kinds(paths):
    """Which of raw and jpeg there are among originals, by the endings of their names."""
    endings = {_ending(path) for path in paths}
    of_kind = {"jpeg": endings & JPEG, "raw": endings - JPEG - RENDERED}
    return {kind for kind, found in of_kind.items() if found}


def may_state_lenses(paths):
    """Whether some raw may state its lens: of each run of names, the first and the last are read.

    A camera numbers its files under one name, so these are frames of all of them.
    """
    runs = defaultdict(list)
    for path in paths:
        if kinds([path]) == {"raw"}:
            runs[path.parent, re.sub(r"\d+", "", path.name)].append(path)
    return any(may_state_lens(path) for run in runs.values() for path in {run[0], run[-1]})


def natural_key(path):
    """Sorting key that takes digits as numbers and ignores case."""
    parts = re.split(r"(\d+)", str(path).casefold())
    return [(int(part) if part.isdecimal() else 0, part) for part in parts], str(path)


def _matches(argument):
    """Originals that an argument stands for, and outputs of earlier runs among its files."""
    path = Path(argument)
    if path.is_file():
        return [path], []
    if path.is_dir():
        inside, nothing = path.iterdir(), "no originals lie directly in this folder"
        remedy = f"for folders below, quote a pattern such as '{path}/**/*.dng'"
    elif glob.has_magic(argument):
        inside = map(Path, glob.iglob(_any_case(argument), recursive=True))
        nothing, remedy = "no original matches this pattern", "check the pattern"
    else:
        raise OriginalError("there is no such file", place=argument, remedy="check the path")
    matches = _pictures_in(inside)
    if not matches:
        raise OriginalError(
            nothing,
            place=argument,
            allowed=f"files ending in {', '.join(sorted(ENDINGS))}",
            remedy=remedy,
        )
    outputs = [path for path in matches if is_output(path)]
    if len(outputs) == len(matches):
        raise OriginalError(
            "all pictures here are outputs of earlier runs, as their sidecars say",
            place=argument,
            remedy="name the folder of the originals",
        )
    return [path for path in matches if path not in outputs], outputs


def _any_case(pattern):
    """A pattern whose ending is met in upper and lower case."""
    start, ending = os.path.splitext(pattern)
    letters = (f"[{c.lower()}{c.upper()}]" if c.isalpha() else c for c in ending)
    return start + (ending if "[" in ending else "".join(letters))


def _pictures_in(paths):
    return [
        path
        for path in paths
        if _ending(path) in ENDINGS and not path.name.startswith(".") and path.is_file()
    ]
