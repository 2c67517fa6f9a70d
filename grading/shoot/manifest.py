"""A list of checksums beside the pictures of a delivery, for whoever receives them.

Lines are those of ``sha256sum``, so ``sha256sum --check SHA256SUMS`` checks the folder. The first
is a comment with the digest of the lines below it: a list that nobody changed is known as ours, and
nothing else of its name is ever replaced.
"""

import hashlib
import os
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from pathlib import Path

from grading.errors import OutputError
from grading.files.atomic import write_atomically
from grading.files.sidecar import read_sidecar, sidecar_path
from grading.regular_file import open_regular
from grading.shoot.jobs import Job
from grading.shoot.originals import natural_key

NAME = "SHA256SUMS"

_HEAD = b"# By grading; SHA-256 of the lines below: "
_ESCAPED = {b"n": b"\n", b"r": b"\r"}

_LARGEST = 1 << 26
"""Bytes of a list that is read; more is not ours."""


def check_manifests(jobs: Iterable[Job]) -> None:
    """Refuse what stands where a list is to be written, before any work.

    Raises
    ------
    OutputError
        That lists the files of these names which are not ours.
    """
    problems = [error for folder in _folders(jobs) if (error := _in_the_way(folder / NAME))]
    if problems:
        raise OutputError.together(problems)


def write_manifests(jobs: Iterable[Job]) -> Iterator[tuple[Path, int]]:
    """Write the lists of all folders whose targets ask for one, once every output is whole.

    What an earlier list of ours has stays on it while the picture and its sidecar are there.

    Parameters
    ----------
    jobs : iterable of Job
        All of a run, those too whose outputs were kept.

    Yields
    ------
    (Path, int)
        A list that was written, and how many outputs are on it.

    Raises
    ------
    OutputError
        If a file that is not ours has the name of one, or it cannot be written.
    """
    for folder, outputs in _folders(jobs).items():
        place = folder / NAME
        if error := _in_the_way(place):
            raise error
        listed = {*outputs, *_still_there(place)}
        lines = b"".join(map(_line, sorted(listed, key=natural_key)))
        write_atomically(place, _head(lines) + lines, overwrite=os.path.lexists(place))
        yield place, len(listed)


def _folders(jobs):
    """Outputs that are to be listed, by folder."""
    found = defaultdict(list)
    for job in jobs:
        for target in job.targets:
            if target.manifest:
                found[target.path.parent].append(target.path)
    return found


def _still_there(place):
    """Outputs of an earlier list that are there with their sidecars."""
    if not os.path.lexists(place):
        return
    for line in place.read_bytes().splitlines()[1:]:
        name = line.partition(b"  ")[2]
        if line.startswith(b"\\"):
            name = re.sub(rb"\\(.)", lambda found: _ESCAPED.get(found[1], found[1]), name)
        output = place.parent / os.fsdecode(name)
        if output.is_file() and sidecar_path(output).is_file():
            yield output


def _line(output):
    """A line of ``sha256sum``; where a name holds a line break or a backslash, both are escaped."""
    digest = read_sidecar(sidecar_path(output)).output.sha256.encode()
    name = os.fsencode(output.name)
    plain = name.replace(b"\\", b"\\\\").replace(b"\n", b"\\n").replace(b"\r", b"\\r")
    return (b"\\" if plain != name else b"") + digest + b"  " + plain + b"\n"


def _head(lines):
    return _HEAD + hashlib.sha256(lines).hexdigest().encode() + b"\n"


def _in_the_way(place):
    """The error of a file that stands there and is no list of ours, else None."""
    if not os.path.lexists(place):
        return None
    try:
        with open_regular(place) as file:
            head, lines = file.readline(1000), file.read(_LARGEST)
    except OSError:
        head, lines = b"", b""
    if head == _head(lines):
        return None
    return OutputError(
        "exists and is no list of checksums as this engine wrote it",
        place=str(place),
        remedy="move it away, or take manifest out of the delivery",
    )
