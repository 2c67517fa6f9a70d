"""What tests of several folders share, and kernels compiled while the first tests run."""

import signal
from threading import Thread

import pytest

NEED_NO_KERNEL = {"calibrate", "colour", "demo"}
"""Folders whose tests come first, and compile nothing."""

COMPILING = pytest.StashKey[Thread]()


def pytest_sessionstart(session):
    """A run of all tests compiles the kernels that are not kept, on all processors.

    Otherwise one test would compile them after the other, on one. A run of some tests compiles what
    it needs.
    """
    config = session.config
    everything = config.args_source is pytest.Config.ArgsSource.TESTPATHS
    if not everything or config.option.keyword or config.option.collectonly:
        return
    from grading.engine import ready, rehearse

    names = rehearse.unrehearsed(rehearse.REHEARSALS)
    session.stash[COMPILING] = Thread(target=lambda: list(ready.compile_each(names)), daemon=True)
    session.stash[COMPILING].start()


def pytest_runtest_setup(item):
    """No test that may compile a kernel begins while other processes do."""
    if COMPILING in item.session.stash and item.path.parent.name not in NEED_NO_KERNEL:
        item.session.stash[COMPILING].join()


@pytest.fixture
def interruptible():
    """Processes started now can be interrupted, also where the tests run in the background.

    A shell lets what it runs in the background ignore SIGINT, and children inherit that; a signal
    that is handled goes back to its default in a child (POSIX, `execve`).
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
