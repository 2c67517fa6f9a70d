"""Outputs appear under their name whole, or not at all."""

import errno
import os
import secrets
import time
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from grading.errors import DiskFull, OutputError

try:
    import fcntl
except ImportError:  # Windows, where no open file can be renamed
    fcntl = None

_PREFIX, _SUFFIX = ".grading-", ".part"
_NO_HARD_LINKS = {
    errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK,
    errno.EINVAL,  # Windows, of a file system of the FAT family
}  # fmt: skip
_ABANDONED = 60.0
"""Seconds since the last write after which a temporary file is a leftover, where none is locked."""


def make_folder(folder):
    """Make a folder for outputs, and those above it, where there is none.

    Parameters
    ----------
    folder : Path

    Raises
    ------
    OutputError
        If it cannot be made, or nothing can be written into it.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder cannot be made ({error.strerror})",
            place=str(folder),
            remedy="choose another folder",
        ) from None
    if not os.access(folder, os.W_OK):
        raise OutputError(
            "nothing can be written into this folder",
            place=str(folder),
            remedy="choose another folder, or change its permissions",
        )


class NewFile(NamedTuple):
    """A file to be written: its path, its content, and whether it may replace another."""

    path: Path
    data: bytes
    overwrite: bool = False


def write_atomically(path, data, overwrite=False):
    """Write a file so that its name never stands for a partial one.

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
        As `write_together` does.
    """
    write_together([NewFile(Path(path), data, overwrite)])


def write_together(files):
    """Write files that belong together so that no name ever stands for a partial one.

    All bytes go to temporary files in the same folders and are flushed to the disk. Only then the
    files get their names, in the order given, each flushed before the next. Unless a file may
    overwrite, an existing file is never replaced, not even one that another process makes
    meanwhile (on file systems with hard links).

    Parameters
    ----------
    files : sequence of NewFile

    Raises
    ------
    OutputError
        If a file exists, or cannot be written. No temporary file is left then, and no new name.
    """
    named = []
    with ExitStack() as stack:
        temporaries = [stack.enter_context(_temporary(new)) for new in files]
        stack.callback(lambda: [path.unlink(missing_ok=True) for path in named])
        for new, temporary in zip(files, temporaries, strict=True):
            with _in_words(new):
                _give_name(temporary, new)
            if not new.overwrite:
                named.append(new.path)
        named.clear()


def remove_leftovers(folder):
    """Remove the temporary files that a killed run left in a folder; a run at work keeps its own.

    Parameters
    ----------
    folder : path-like
        Where outputs are written; need not exist.
    """
    for path in Path(folder).glob(f"{_PREFIX}*{_SUFFIX}"):
        with suppress(OSError):  # another run has it locked, or removed it
            _remove_if_left(path)


def _remove_if_left(path):
    """Remove a temporary file if it is nobody's any more."""
    if fcntl is not None:
        with open(path, "r+b") as file:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            path.unlink()
    elif time.time() - path.stat().st_mtime >= _ABANDONED:
        path.unlink()


@contextmanager
def _temporary(new):
    """A file with the content of a new one, flushed to the disk; gone in the end, or renamed."""
    with _in_words(new):
        path, file = _open_temporary(new.path)
    try:
        with file:
            with _in_words(new):
                file.write(new.data)
                file.flush()
                os.fsync(file.fileno())
            if fcntl is None:
                file.close()
            yield path
    finally:
        with suppress(OSError):
            path.unlink(missing_ok=True)


def _open_temporary(beside):
    """A temporary file, open for writing and locked, so that no other run takes it for left."""
    while True:
        path = beside.with_name(f"{_PREFIX}{secrets.token_hex(8)}{_SUFFIX}")
        file = open(path, "xb")  # noqa: SIM115
        if fcntl is not None:
            with suppress(OSError):  # a file system without locks
                fcntl.flock(file, fcntl.LOCK_EX)
        if path.exists():
            return path, file
        file.close()  # another run took it before it was locked


def _give_name(temporary, new):
    if new.overwrite:
        os.replace(temporary, new.path)
    else:
        _rename_to_new(temporary, new.path)
    _flush_folder(new.path.parent)


@contextmanager
def _in_words(new):
    """Say what the system says of a file as an error of ours."""
    try:
        yield
    except OSError as error:
        raise _output_error(new.path, error, len(new.data)) from None


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
        errno.ENOSPC: (f"the disk is full, {size:,} bytes are needed", "make room and run again"),
        errno.EDQUOT: (f"the quota is used up, {size:,} bytes are needed", "make room"),
        errno.ENAMETOOLONG: ("the name is too long", "choose a shorter name"),
    }
    problem, remedy = remedies.get(
        error.errno, (f"cannot be written ({error.strerror})", "check the disk")
    )
    kind = DiskFull if error.errno in (errno.ENOSPC, errno.EDQUOT) else OutputError
    return kind(problem, place=path, remedy=remedy)
