"""Ctrl-C inside and outside of the import system."""

import importlib
import signal
import threading
import time
from types import SimpleNamespace

import pytest

from grading.stopping import orderly


@pytest.mark.usefixtures("interruptible")
def test_outside_of_an_import_it_comes_at_once():
    before = signal.getsignal(signal.SIGINT)
    with pytest.raises(KeyboardInterrupt), orderly():
        signal.raise_signal(signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is before


@pytest.mark.usefixtures("interruptible")
def test_in_an_import_it_comes_a_moment_later():
    code = importlib._bootstrap._find_and_load.__code__
    with orderly():
        signal.getsignal(signal.SIGINT)(signal.SIGINT, SimpleNamespace(f_code=code))
        begun = time.monotonic()
        with pytest.raises(KeyboardInterrupt):
            time.sleep(10)
    assert time.monotonic() - begun < 5


def test_a_job_that_ignores_it_goes_on_ignoring_it():
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with orderly():
            assert signal.getsignal(signal.SIGINT) is signal.SIG_IGN
    finally:
        signal.signal(signal.SIGINT, before)


def test_another_thread_changes_nothing():
    def work():
        with orderly():
            seen.append(signal.getsignal(signal.SIGINT))

    seen = []
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert seen == [signal.getsignal(signal.SIGINT)]
