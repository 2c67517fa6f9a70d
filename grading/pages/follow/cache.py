"""Results by key: each computed once, one at a time on its own thread; the latest few are kept."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from concurrent.futures import CancelledError, Future, ThreadPoolExecutor
from threading import Lock
from typing import Any

from grading.pages.loopback import NotThere


class Closed(NotThere):
    """The cache was closed before the result was computed."""


class ResultCache:
    """Computes a result when it is first asked for, and keeps those that were asked for last.

    Parameters
    ----------
    make : callable
        Key to result. What it raises is raised by `get` and not kept: the next `get` tries again.
    keep : int
        How many results are kept.
    """

    def __init__(self, make: Callable[[Any], Any], keep: int) -> None:
        self._make, self._keep = make, keep
        self._worker = ThreadPoolExecutor(1)
        self._lock = Lock()
        self._futures = OrderedDict()
        self._closed = False

    def get(self, key: Hashable) -> Any:
        """The result for a key; waits until it is computed. Raises `Closed` if it never will be."""
        try:
            return self.begin(key).result()
        except CancelledError:
            raise Closed from None

    def close(self) -> None:
        """Begin nothing more; what is being computed is finished."""
        with self._lock:
            self._closed = True
        self._worker.shutdown(cancel_futures=True)

    def begin(self, key: Hashable) -> Future:
        """Begin with the result for a key, without waiting for it. Raises `Closed`."""
        with self._lock:
            if self._closed:
                raise Closed
            future = self._futures.pop(key, None)
            if future is None or future.done() and future.exception():
                future = self._worker.submit(self._make, key)
            self._futures[key] = future
            while len(self._futures) > self._keep:
                self._futures.popitem(last=False)
            return future
