"""The libraries that decode originals: what they log is collected, a failed import is undone."""

import logging
import sys
import threading
from contextlib import contextmanager
from importlib.machinery import ExtensionFileLoader

_LOGGERS = ("PIL", "imagecodecs", "imageio", "tifffile")
_KEEPING_STANDINS = ("imagecodecs", "tifffile")
"""Libraries that put a stand-in where a part of theirs could not be imported, and keep it."""

_SHOWN = 3  # messages of one frame


class _Listener(logging.Handler):
    """Collects what one thread logs."""

    def __init__(self):
        super().__init__(logging.WARNING)
        self.thread, self.messages = threading.get_ident(), {}

    def emit(self, record):
        if record.thread == self.thread:
            self.messages[" ".join(record.getMessage().split())] = None


@contextmanager
def overheard():
    """Collect what decoders log, which nobody could trace to its file on the terminal.

    Yields
    ------
    callable
        Gives warnings for a person: what was logged so far, each message once, and at most three.
    """
    listener = _Listener()

    def warnings():
        messages = [f"the decoder says: {message}" for message in listener.messages]
        more = len(messages) - _SHOWN
        return messages[:_SHOWN] + ([f"the decoder says {more} things more"] if more > 0 else [])

    for name in _LOGGERS:
        logging.getLogger(name).addHandler(listener)
    try:
        yield warnings
    finally:
        for name in _LOGGERS:
            logging.getLogger(name).removeHandler(listener)


def undo_failed_imports():
    """Forget what a failed import left behind, so that the next frame imports it anew.

    Python forgets the package whose import failed, but not the modules in it that were ready;
    with these, a second import makes a package of two halves. Compiled modules stay, as they
    cannot be loaded twice.
    """
    for name, module in list(sys.modules.items()):
        package = name.partition(".")[0]
        left = package not in sys.modules or package in _KEEPING_STANDINS
        loader = getattr(getattr(module, "__spec__", None), "loader", None)
        if left and not isinstance(loader, ExtensionFileLoader):
            del sys.modules[name]
