"""What tests of several folders share."""

import signal

import pytest


@pytest.fixture
def interruptible():
    """Processes started now can be interrupted, also where the tests run in the background.

    A shell lets what it runs in the background ignore SIGINT, and children inherit that; a signal
    that is handled goes back to its default in a child (POSIX, `execve`).
    """
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)
