"""What an earlier run left under the name of an output, told from a person's own files."""

import os
from dataclasses import dataclass

from grading.errors import OutputError, SidecarError
from grading.files.sidecar import Sidecar, read_sidecar, sha256_of, sidecar_path

_ELSEWHERE = "choose another folder, or move that file away"


@dataclass(frozen=True)
class Earlier:
    """An output of an earlier run, by its sidecar.

    Attributes
    ----------
    record : Sidecar
    found : str or None
        SHA-256 of the output; None where it is missing.
    """

    record: Sidecar
    found: str | None

    @property
    def whole(self):
        """Whether the output is the one recorded: that run was not stopped between the two."""
        return self.found == self.record.output.sha256


def earlier_output(output):
    """What an earlier run left under the name of an output.

    Its sidecar is written first. After a run that was killed between the two, the output is
    missing, or still the one that it was to replace, which the sidecar names too.

    Parameters
    ----------
    output : Path

    Returns
    -------
    Earlier or None
        None where nothing lies there.

    Raises
    ------
    OutputError
        If what lies there is not known to be of an earlier run, and so must not be replaced: a
        file without a sidecar, one that was changed since, or a file with the sidecar's name.
    """
    place = sidecar_path(output)
    stands = os.path.lexists(output)
    if not os.path.lexists(place):
        if not stands:
            return None
        raise OutputError(
            "exists without a sidecar, so it may be an original", place=output, remedy=_ELSEWHERE
        )
    try:
        record = read_sidecar(place)
    except SidecarError as error:
        raise OutputError(
            f"exists and is no sound sidecar of {output.name} ({error.problem})",
            place=place,
            remedy=_ELSEWHERE,
        ) from None
    found = _digest(output) if stands else None
    if found not in (None, record.output.sha256, record.output.replaces):
        raise OutputError(
            "is not what its sidecar says: it was changed since, so it is yours",
            place=output,
            remedy=_ELSEWHERE,
        )
    return Earlier(record, found)


def _digest(output):
    try:
        return sha256_of(output)
    except OSError as error:
        raise OutputError(
            f"cannot be read ({error.strerror})", place=output, remedy=_ELSEWHERE
        ) from None


def is_output(path):
    """Whether a sound sidecar beside a file says that it is an output.

    Parameters
    ----------
    path : Path
    """
    try:
        read_sidecar(sidecar_path(path))
    except SidecarError:
        return False
    return True
