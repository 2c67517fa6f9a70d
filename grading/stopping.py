"""Ctrl-C, handled where it is safe."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Timer, current_thread, main_thread

AGAIN = 0.01
"""Seconds until a stop that came at a bad moment comes again."""


@contextmanager
def orderly() -> Iterator[None]:
    """Have Ctrl-C raise KeyboardInterrupt as ever, but never inside the import system.

    There it can get lost, and leave a lock behind for which other threads wait for ever.
    """
    before = signal.getsignal(signal.SIGINT)
    if current_thread() is not main_thread() or before is not signal.default_int_handler:
        yield  # a job in the background ignores it
        return
    signal.signal(signal.SIGINT, _interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def _interrupt(number, frame):
    if frame and frame.f_code.co_filename.startswith("<frozen importlib"):
        again = Timer(AGAIN, _send_again, (number,))
        again.daemon = True
        again.start()
    else:
        raise KeyboardInterrupt


def _send_again(number):
    if hasattr(signal, "pthread_kill"):  # POSIX: it wakes the main thread where that waits
        signal.pthread_kill(main_thread().ident, number)
    else:
        signal.raise_signal(number)
