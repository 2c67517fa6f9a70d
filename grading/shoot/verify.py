"""Outputs and originals checked against the sidecars of a folder."""

import os
from collections import defaultdict
from dataclasses import dataclass

from grading.errors import GradingError, SidecarError
from grading.files import sidecar
from grading.files.formats.record import Header
from grading.files.formats.registry import FORMATS, SUFFIXES
from grading.files.metadata.exif import capture_facts, read_exif
from grading.files.metadata.xmp import xmp_packet
from grading.recipe.load import recipe_from_mapping
from grading.regular_file import open_regular
from grading.shoot.deliver import stated_capture, stated_label, stated_output
from grading.shoot.originals import natural_key
from grading.shoot.redo import remake

IF_MISSING = "make it again by redo, or by render with --keep"


@dataclass(frozen=True)
class Verified:
    """How many outputs agree with their sidecars, how many do not, and why."""

    agreeing: int
    disagreeing: int
    troubles: list[GradingError]


def sidecars_in(folder):
    """Sidecars of outputs in a folder, in natural order."""
    places = [path for suffix in SUFFIXES for path in folder.glob(f"*{suffix}.yaml")]
    return sorted(places, key=natural_key)


def verify_folder(folder, originals=None, redone=0, workers=None):
    """Check every sidecar in a folder, and, where there are any, that no output is without one.

    Checked are the sidecar itself (it was not changed, and is called after its output), the
    output (bytes, format, size, colour space, credits), the recipe (it can be read), and the
    original (bytes, facts of capture).

    Parameters
    ----------
    folder : Path
    originals : Path, optional
        Folder where the originals lie now; where the sidecars say unless given.
    redone : int or inf
        How many outputs are rendered again and compared, spread evenly over the folder.
    workers : int, optional
        Threads for grading.

    Returns
    -------
    Verified
    """
    places = sidecars_in(folder)
    again = _spread_evenly(places, redone)
    known = {folder / place.stem for place in places}
    troubles, missing = [], defaultdict(list)
    for place in places:
        try:
            record = sidecar.read_sidecar(place)
            original = sidecar.find_original(place, record, originals)
            known.add(original)
            _check_output(place, record)
            if os.path.exists(original):
                _check_original(place, record, original)
                if place in again:
                    remake(place, originals, workers)
            else:
                missing[original.parent].append(record.original.name)
        except GradingError as error:
            troubles.append(error)
    lost = sum(map(len, missing.values()))
    stray = _without_sidecar(folder, known) if places else []
    return Verified(
        agreeing=len(places) - len(troubles) - lost,
        disagreeing=len(troubles) + lost + len(stray),
        troubles=troubles + [_moved(*each) for each in missing.items()] + stray,
    )


def _spread_evenly(places, count):
    """So many of the places, or all, the first and the last among them."""
    if count >= len(places):
        return set(places)
    return {places[i * (len(places) - 1) // max(count - 1, 1)] for i in range(count)}


def _check_output(place, record):
    """Refuse an output that is not what its sidecar says, by its bytes and by its header."""
    stated = record.output
    output = place.parent / stated.name
    sidecar.check_file(output, stated, place, IF_MISSING)
    asked = stated_output(stated, place)
    original = record.original
    xmp = xmp_packet(stated_label(record, place), original.name, original.sha256)
    wanted = Header(stated.width, stated.height, asked.bits, asked.space, xmp)
    with open_regular(output) as file:
        found = FORMATS[asked.format].read_header(file)
    _agree(place, "output", _by_name(asked, wanted), _by_name(asked, found) if found else {})
    if found.xmp != xmp:
        raise _tampered(place, "label")
    recipe_from_mapping(record.recipe.resolved, f"{place}: recipe.resolved", place.parent)


def _by_name(output, header):
    kind = f"{output.format} of {header.bits} bit"
    return {"format": kind, "width": header.width, "height": header.height, "space": header.space}


def _check_original(place, record, original):
    sidecar.check_file(original, record.original, place, "check the disk that it lies on")
    with open_regular(original) as file:
        directories = read_exif(file.read())
    if directories[1]:  # else LibRaw read the facts from elsewhere in the file
        found = stated_capture(capture_facts(directories), stated_label(record, place))
        _agree(place, "capture", record.capture, found)


def _agree(place, kind, stated, found):
    apart = [name for name in sorted(stated.keys() | found.keys())
             if stated.get(name) != found.get(name)]  # fmt: skip
    if apart:
        raise _tampered(place, f"{kind}.{apart[0]}")


def _tampered(place, what):
    return SidecarError(
        f"{what} is not that of the file",
        place=place,
        remedy="this sidecar was tampered with: render the output again",
    )


def _moved(folder, names):
    several = f"{len(names)} originals ({names[0]} and others) are" if names[1:] else (
        f"the original {names[0]} is"
    )  # fmt: skip
    return SidecarError(
        f"{several} no longer here",
        place=folder,
        remedy="state where originals lie now: --originals FOLDER",
    )


def _without_sidecar(folder, known):
    outputs = (path for suffix in SUFFIXES for path in folder.glob(f"*{suffix}"))
    return [
        SidecarError(
            "an output without a sidecar",
            place=str(path),
            remedy="if it is a picture of yours, move it away; if not, delete it and render again",
        )
        for path in sorted(outputs, key=natural_key)
        if path not in known and path.resolve() not in known
    ]
