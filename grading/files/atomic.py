"""Outputs appear under their name whole, or not at all."""

import errno
import os
import secrets
import time
from contextlib import suppress
from pathlib import Path

from grading.errors import OutputError

_PREFIX, _SUFFIX = ".grading-", ".part"
_NO_HARD_LINKS = {
    errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK,
    errno.EINVAL,  # Windows, of a file system of the FAT family
}  # fmt: skip


def make_folder(folder):
    """Make a folder for outputs, and those above it, where there is none.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    OutputError
        If it cannot be made.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made ({error.strerror})",
            place=str(folder),
            remedy="choose another folder",
        ) from None


def write_atomically(path, data, overwrite=False):
    """Write a file so that its name never stands for a partial one.

    The bytes go to a temporary file in the same folder, are flushed to the disk, and only
    then get the name. Unless ``overwrite`` is set, an existing file is never replaced, not
    even one that another process makes meanwhile (on file systems with hard links).

    Parameters
    ----------
    path : path-like
        The output.
    data : bytes-like
        Its content.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        If the file exists, or cannot be written. The temporary file is gone then.
    """
    path = Path(path)
    temporary = path.with_name(f"{_PREFIX}{secrets.token_hex(8)}{_SUFFIX}")
    try:
        _write_new(temporary, data)
        if overwrite:
            os.replace(temporary, path)
        else:
            _rename_to_new(temporary, path)
        _flush_folder(path.parent)
    except OSError as error:
        raise _output_error(path, error, len(data)) from None
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def remove_leftovers(folder, older_than=60.0):
    """Remove the temporary files that a killed run left in a folder.

    Parameters
    ----------
    folder : path-like
        Where outputs are written.
    older_than : float
        Seconds since the last write; younger files may belong to a run at work.

    Returns
    -------
    list of Path
        What was removed.
    """
    removed = []
    for path in sorted(Path(folder).glob(f"{_PREFIX}*{_SUFFIX}")):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime >= older_than:
                path.unlink()
                removed.append(path)
    return removed


def _write_new(path, data):
    with open(path, "xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _rename_to_new(temporary, path):
    """Give ``temporary`` its name by a hard link, which fails if the name is taken."""
    try:
        os.link(temporary, path)
    except OSError as error:
        if error.errno not in _NO_HARD_LINKS:
            raise
        if path.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        os.rename(temporary, path)


def _flush_folder(folder):
    """Make the new name durable, where the platform lets a folder be opened."""
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _output_error(path, error, size):
    remedies = {
        errno.EEXIST: ("the output exists already", "choose another, or state --overwrite"),
        errno.ENOENT: ("the folder does not exist", f"make the folder {path.parent}"),
        errno.ENOTDIR: ("the folder is a file", "choose another folder"),
        errno.EISDIR: ("a folder has this name", "choose another name"),
        errno.EACCES: ("no permission to write here", "choose another folder or its permissions"),
        errno.EPERM: ("no permission to write here", "choose another folder or its permissions"),
        errno.EROFS: ("the disk is read-only", "choose another folder"),
        errno.ENOSPC: (f"the disk is full, {size} bytes are needed", "make room and run again"),
        errno.EDQUOT: (f"the quota is used up, {size} bytes are needed", "make room"),
        errno.ENAMETOOLONG: ("the name is too long", "choose a shorter name"),
    }
    problem, remedy = remedies.get(
        error.errno, (f"cannot be written ({error.strerror})", "check the disk")
    )
    return OutputError(problem, place=path, remedy=remedy)
