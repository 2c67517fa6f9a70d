"""An output made again from its sidecar alone."""

from dataclasses import asdict, replace

from grading.errors import OutputError, SidecarError
from grading.files import sidecar
from grading.files.atomic import make_folder, write_atomically
from grading.files.originals import open_frame
from grading.recipe.load import recipe_from_mapping
from grading.shoot import deliver
from grading.shoot.jobs import identity, over_original


def redo(path, folder=None, originals=None, overwrite=False, workers=None):
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
        Whether a file that is not the recorded output may be replaced.
    workers : int, optional
        Threads for grading.

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
    from grading.engine.execute import render

    if path.suffix != ".yaml":
        remedy = f"name that of this file, {sidecar.sidecar_path(path)}"
        raise SidecarError("not a sidecar", place=str(path), remedy=remedy)
    record = sidecar.read_sidecar(path)
    original = sidecar.find_original(path, record, originals)
    _check_original(path, record, original)
    recipe = recipe_from_mapping(record.recipe.resolved, f"{path}: recipe.resolved")
    frame = open_frame(original)
    picture = render(frame, recipe, deliver.stated_output(record.output), workers)
    data = deliver.encode(picture, frame.exif)
    made = deliver.describe_output(record.output.name, data, picture)
    if made.sha256 != record.output.sha256:
        raise _differs(path, record, made)
    output = (folder or path.parent) / record.output.name
    if output.is_file() and sidecar.sha256_of(output) == made.sha256:
        return output, False
    _write(path, output, data, record, original, overwrite)
    return output, True


def _check_original(path, record, original):
    if not original.is_file():
        raise SidecarError(
            f"there is no {original}",
            place=str(path),
            remedy="if the original was moved, state --originals FOLDER",
        )
    found = sidecar.describe_original(original, path.parent).sha256
    if found != record.original.sha256:
        raise SidecarError(
            f"{original} has SHA-256 {found}",
            place=str(path),
            allowed=record.original.sha256,
            remedy="this is not the original that the output was made from: put that one back",
        )


def _differs(path, record, made):
    then, now = _versions(record.engine), _versions(sidecar.engine_facts())
    changed = [
        f"{name} {then.get(name)} (here {now.get(name)})"
        for name in sorted(then.keys() | now.keys())
        if then.get(name) != now.get(name)
    ]
    return SidecarError(
        f"{made.name} comes out with SHA-256 {made.sha256}, so nothing was written",
        place=str(path),
        allowed=record.output.sha256,
        remedy=f"it was made with {', '.join(changed)}"
        if changed
        else "the versions are those that made it: was a number in the sidecar changed?",
    )


def _versions(engine):
    facts = asdict(engine)
    return facts.pop("libraries") | facts


def _write(path, output, data, record, original, overwrite):
    """Write the output, and in another folder a sidecar too."""
    error = over_original(output, {identity(original)})
    if error:
        raise error
    if output.exists() and not overwrite:
        raise OutputError(
            "another file of this name exists",
            place=str(output),
            remedy="choose another folder with --out, or state --overwrite",
        )
    make_folder(output.parent)
    if output.parent.resolve() == path.parent.resolve():
        write_atomically(output, data, overwrite)
    else:
        described = sidecar.describe_original(original, output.parent)
        moved = replace(record, original=described)
        deliver.write(output, deliver.Delivery(data, moved), overwrite)
