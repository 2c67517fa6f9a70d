"""A graded picture becomes a file with its sidecar."""

import hashlib
from dataclasses import asdict, replace
from pathlib import Path

from grading.engine.output import Output
from grading.errors import OutputError
from grading.files import sidecar
from grading.files.atomic import NewFile, write_together
from grading.files.formats.record import Attached
from grading.files.formats.registry import FORMATS
from grading.files.metadata.label import Label, label_of, labelled
from grading.files.metadata.xmp import xmp_packet
from grading.recipe.images import with_paths
from grading.shoot.earlier import earlier_output
from grading.shoot.noise import described

ACCEPTED_DARK = "accepted_dark"
"""What a sidecar states, among what was measured, of a nearly black original."""

SPOTS_LEFT = "spots_left"
"""The same of spots that stay as they are: x and y as fractions of the frame."""


def encode(picture, exif, xmp=None, workers=None):
    """Bytes of the output file of a picture.

    Parameters
    ----------
    picture : Picture
        From `grading.render`.
    exif : tuple of dict, or None
        EXIF directories that the file is to carry.
    xmp : bytes, optional
        XMP packet that it is to carry.
    workers : int, optional
        Threads.
    """
    output = picture.output
    attached = Attached(output.space, exif, xmp)
    return FORMATS[output.format].encode(picture.array, attached, output.quality, workers)


def make_delivery(path, frame, picture, recipe, label=Label(), workers=None):
    """Encode a picture and describe it.

    Parameters
    ----------
    path : Path
        The output; its folder exists.
    frame : Frame
    picture : Picture
    recipe : grading.files.sidecar.RecipeRecord
        How the recipe is named in the sidecar.
    label : Label
        What the output says beside its pixels.
    workers : int, optional
        Threads for encoding.

    Returns
    -------
    bytes
        Of the output.
    Sidecar
        All that its sidecar says of them.

    Raises
    ------
    OutputError
        If the format cannot hold the picture.
    """
    original = sidecar.original_of(frame.facts, path.parent)
    xmp = xmp_packet(label, original.name, original.sha256)
    try:
        data = encode(picture, labelled(frame.exif, label), xmp, workers)
    except OutputError as error:
        raise OutputError(
            error.problem, place=path, allowed=error.allowed, remedy=error.remedy
        ) from None
    record = sidecar.Sidecar(
        original=original,
        output=describe_output(path.name, data, picture),
        recipe=moved_recipe(recipe, Path(), path.parent),
        engine=sidecar.engine_facts(),
        capture=stated_capture(frame.facts.capture, label),
        measured=_measured(frame, picture),
        label=label.as_mapping(),
    )
    return data, record


def moved_recipe(recipe, before, folder):
    """A recipe's record whose paths are those from a folder, rather than from one before."""
    resolved = with_paths(
        recipe.resolved, lambda path: sidecar.relative_path(before / path, folder)
    )
    return replace(recipe, resolved=resolved)


def stated_capture(capture, label):
    """The facts of capture that a sidecar states; the place only where the output keeps it.

    What a focal length is on a full frame is for choosing, and no part of them, nor is the
    camera's serial number, which is nobody else's business.
    """
    place = () if label.keeps_place else ("latitude", "longitude")
    left_out = ("focal_length_full_frame", "serial", *place)
    facts = asdict(capture)
    return {k: value for k, value in facts.items() if value is not None and k not in left_out}


def _measured(frame, picture):
    """How the pixels were made, their noise where it is known, and what is clipped.

    Of a nearly black original it says that the person accepted it.
    """
    facts, known = frame.facts, described(frame.facts)
    if facts.dark:
        known[ACCEPTED_DARK] = {"brightest": facts.brightest}
    if picture.spots_left:
        known[SPOTS_LEFT] = picture.spots_left
    return {"decoder": facts.decoder, **known, "clipping": picture.clipping}


def describe_output(name, data, picture):
    """Describe an output for its sidecar."""
    height, width = picture.array.shape[:2]
    output = picture.output
    return sidecar.OutputRecord(
        name=name,
        size=len(data),
        sha256=hashlib.sha256(data).hexdigest(),
        format=output.format,
        space=output.space,
        quality=output.quality if FORMATS[output.format].has_quality else None,
        long_edge=output.long_edge,
        width=width,
        height=height,
        short_edge=output.short_edge,
        box=output.box and list(output.box),
        sharpen=output.sharpen,
    )


def stated_label(record, place):
    """The `Label` that a sidecar states.

    Parameters
    ----------
    record : Sidecar
    place : Path
        The sidecar's own.

    Raises
    ------
    OutputError
        If there is no such label.
    """
    try:
        return label_of(record.label)
    except OutputError as error:
        raise OutputError(error.problem, place=place, allowed=error.allowed) from None


def stated_output(described, place):
    """The `grading.Output` that a sidecar describes.

    Parameters
    ----------
    described : grading.files.sidecar.OutputRecord
    place : Path
        The sidecar's own.

    Raises
    ------
    OutputError
        If there is no such format, space or size.
    """
    quality = {} if described.quality is None else {"quality": described.quality}
    stated = ("long_edge", "short_edge", "box", "sharpen")
    ways = {name: getattr(described, name) for name in stated}
    try:
        return Output(described.format, described.space, **ways, **quality)
    except OutputError as error:
        raise OutputError(error.problem, place=place, allowed=error.allowed) from None


def write(path, data, record, overwrite=False):
    """Write a sidecar and its output together; each appears whole or not at all.

    The sidecar comes first, so that what lies there after a kill is known to be of this engine. One
    whose output is missing is the record of a picture that may lie elsewhere: unless told to
    overwrite, only the same output takes its place.

    Parameters
    ----------
    path : Path
        The output.
    data : bytes
    record : Sidecar
        As `make_delivery` gives both.
    overwrite : bool
        Whether an output of an earlier run may be replaced.

    Raises
    ------
    OutputError
        If one exists and ``overwrite`` is not set, if a file that is no output stands there, or
        if one of the two cannot be written.
    """
    earlier = earlier_output(path)
    replaces = earlier and earlier.found
    same = earlier and earlier.record.output.sha256 == record.output.sha256
    if earlier and not overwrite and (replaces or not same):
        raise OutputError(
            "the output exists already",
            place=path,
            remedy="state --overwrite, unless another run made it just now",
        )
    record = replace(record, output=replace(record.output, replaces=replaces))
    write_together(
        [
            NewFile(sidecar.sidecar_path(path), sidecar.as_bytes(record), overwrite=bool(earlier)),
            NewFile(path, data, overwrite=bool(replaces)),
        ]
    )
