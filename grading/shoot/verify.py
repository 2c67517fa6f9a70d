"""Outputs and originals checked against the sidecars of a folder."""

from grading.errors import SidecarError
from grading.files import sidecar
from grading.shoot.jobs import SUFFIXES
from grading.shoot.originals import natural_key


def verify_folder(folder, originals=None):
    """Check every sidecar in a folder, and that no output is without one.

    Parameters
    ----------
    folder : Path
    originals : Path, optional
        Folder where the originals lie now; where the sidecars say unless given.

    Returns
    -------
    int
        How many outputs agree with their sidecar, as do their originals.
    list of SidecarError
        What does not.
    """
    places = [path for end in SUFFIXES.values() for path in folder.glob(f"*{end}.yaml")]
    known, troubles = set(), []
    for place in sorted(places, key=natural_key):
        known.add(folder / place.stem)
        try:
            record = sidecar.verify(place, originals)
            known.add(sidecar.find_original(place, record, originals).resolve())
        except SidecarError as error:
            troubles.append(error)
    agreeing = len(places) - len(troubles)
    return agreeing, troubles + _without_sidecar(folder, known)


def _without_sidecar(folder, known):
    outputs = (path for end in SUFFIXES.values() for path in folder.glob(f"*{end}"))
    return [
        SidecarError(
            "an output without a sidecar",
            place=str(path),
            remedy="render it again, or take it out of this folder",
        )
        for path in sorted(outputs, key=natural_key)
        if path not in known and path.resolve() not in known
    ]
