"""An output made again from its sidecar alone."""

import json
from dataclasses import asdict, replace

from grading.develop.noise_source import with_shown
from grading.errors import SidecarError
from grading.files import sidecar
from grading.files.atomic import make_folder
from grading.files.limits import MAX_PIXELS
from grading.files.originals import open_frame
from grading.recipe.load import recipe_from_mapping
from grading.shoot import deliver
from grading.shoot.earlier import earlier_output
from grading.shoot.jobs import identity, over_original
from grading.shoot.noise import shown_in

IF_MOVED = "if the originals were moved, state --originals FOLDER"


def redo(
    path, folder=None, originals=None, overwrite=False, workers=None, max_pixels=MAX_PIXELS
):
    """Make an output again from the numbers in its sidecar, and compare it with the record.

    Only an output with the recorded bits is written.

    Parameters
    ----------
    path : Path
        The sidecar.
    folder : Path, optional
        Where the output goes; the sidecar's own folder unless given.
    originals : Path, optional
        Folder where the originals lie now; where the sidecar says unless given.
    overwrite : bool
        Whether an earlier output may be replaced; any other file never is.
    workers : int, optional
        Threads for grading.
    max_pixels : int
        An original of more is refused.

    Returns
    -------
    Path
        The output.
    bool
        Whether it was written; False where it was there already.

    Raises
    ------
    GradingError
        If the sidecar or the original cannot be read, the original is another one, the result
        differs from the record, or a file is in the way.
    """
    data, record, original = remake(path, originals, workers, max_pixels)
    output = (folder or path.parent) / record.output.name
    error = over_original(output, {identity(original)})
    if error:
        raise error
    earlier = earlier_output(output)
    if earlier and earlier.found == record.output.sha256:
        return output, False
    make_folder(output.parent)
    described = sidecar.describe_original(original, output.parent)
    recipe = deliver.moved_recipe(record.recipe, path.parent, output.parent)
    deliver.write(output, data, replace(record, original=described, recipe=recipe), overwrite)
    return output, True


def remake(path, originals=None, workers=None, max_pixels=MAX_PIXELS):
    """Make an output again in memory, and check that all comes out as its sidecar says.

    Parameters
    ----------
    path, originals, workers, max_pixels
        As in `redo`.

    Returns
    -------
    bytes
        Of the output.
    Sidecar
        As it was read.
    Path
        The original.

    Raises
    ------
    GradingError
        As `redo` does.
    """
    from grading.engine.execute import render

    if path.suffix != ".yaml":
        raise SidecarError(
            "not a sidecar",
            place=path,
            remedy=f"name that of this file, {sidecar.sidecar_path(path)}"
            if sidecar.sidecar_path(path).exists()
            else "name a file that ends in .yaml beside an output, or the folder of both",
        )
    stated = sidecar.read_sidecar(path)
    original = sidecar.find_original(path, stated, originals)
    sidecar.check_file(original, stated.original, path, IF_MOVED)
    place = f"{path}: recipe.resolved"
    recipe = recipe_from_mapping(stated.recipe.resolved, place, path.parent)
    frame = open_frame(original, max_pixels, deliver.ACCEPTED_DARK in stated.measured)
    frame = with_shown(frame, shown_in(stated, path))
    picture = render(frame, recipe, deliver.stated_output(stated.output, path), workers)
    resolved = picture.resolved
    applied = replace(stated.recipe, name=resolved.title, resolved=resolved.as_mapping())
    label = deliver.stated_label(stated, path)
    made_of = path.with_suffix(""), frame, picture, applied, label, workers
    data, made = deliver.make_delivery(*made_of)
    _compare(path, stated, made)
    return data, stated, original


def _compare(path, stated, made):
    if made.output.sha256 != stated.output.sha256:
        raise _other_bits(path, stated, made)
    then, now = _values(asdict(stated)), _values(asdict(made))
    apart = [
        name
        for name in sorted(then.keys() | now.keys())
        if then.get(name) != now.get(name)
        and not name.startswith(("engine.", "original.path", "output.replaces"))
    ]
    if stated.engine != made.engine:  # a decoder's name holds its version; spots were not said
        told = ("measured.decoder", f"measured.{deliver.SPOTS_LEFT}")
        apart = [name for name in apart if not name.startswith(told)]
    if apart:
        raise SidecarError(
            "the output comes out as recorded, but other values do not: "
            + ", ".join(apart),
            place=path,
            remedy="these values were changed after the output was made: render it again",
        )


def _values(record, above=""):
    """Values of a nested mapping, as JSON, by their dotted names."""
    found = {}
    for name, value in record.items():
        if isinstance(value, dict):
            found |= _values(value, f"{above}{name}.")
        else:
            found[above + name] = json.dumps(value)
    return found


def _other_bits(path, stated, made):
    then, now = _versions(stated.engine), _versions(made.engine)
    changed = [
        f"{name} {then.get(name)} (here {now.get(name)})"
        for name in sorted(then.keys() | now.keys())
        if then.get(name) != now.get(name)
    ]
    return SidecarError(
        f"{stated.output.name} comes out with SHA-256 {made.output.sha256}, so nothing was written",
        place=path,
        allowed=stated.output.sha256,
        remedy=f"it was made with {', '.join(changed)}"
        if changed
        else "the versions are those that made it: was a number in the sidecar changed?",
    )


def _versions(engine):
    facts = asdict(engine)
    return facts.pop("libraries") | facts
