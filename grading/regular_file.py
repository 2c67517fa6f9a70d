"""Files opened for reading only if they are regular: a pipe or a device could be read for ever."""

import errno
import os
import stat

_FLAGS = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def open_regular(path):
    """Open a file of a person's for reading.

    Parameters
    ----------
    path : path-like

    Returns
    -------
    file object
        Binary, not buffered by more than the default.

    Raises
    ------
    OSError
        As `open` does; and where the path is a folder, a pipe, a socket or a device, or no path at
        all (with a zero character in it). It never waits, as opening a pipe would.
    """
    try:
        descriptor = os.open(path, _FLAGS)
    except ValueError as error:
        raise OSError(errno.EINVAL, str(error), str(path)) from None
    if stat.S_ISREG(os.fstat(descriptor).st_mode):
        return open(descriptor, "rb")
    os.close(descriptor)
    raise OSError(errno.EINVAL, "it is not a regular file", str(path))
