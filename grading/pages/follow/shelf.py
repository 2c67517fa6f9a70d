"""Results by key: made once, one at a time on a thread of their own, the latest few kept."""

from collections import OrderedDict
from concurrent.futures import ThreadPoolExecutor
from threading import Lock


class Shelf:
    """Makes what is asked for and keeps it while it is among the latest asked for.

    Parameters
    ----------
    make : callable
        Key to result. What it raises is raised by `get` and not kept: the next one tries again.
    keep : int
        How many results are kept.
    """

    def __init__(self, make, keep):
        self._make, self._keep = make, keep
        self._worker = ThreadPoolExecutor(1)
        self._lock = Lock()
        self._futures = OrderedDict()

    def get(self, key):
        """The result for a key, waited for if it is still to be made."""
        return self._future(key).result()

    def prepare(self, key):
        """Have the result for a key made without waiting for it."""
        self._future(key)

    def close(self):
        """Make nothing more; what is being made is finished."""
        self._worker.shutdown(cancel_futures=True)

    def _future(self, key):
        with self._lock:
            future = self._futures.pop(key, None)
            if future is None or future.done() and future.exception():
                future = self._worker.submit(self._make, key)
            self._futures[key] = future
            while len(self._futures) > self._keep:
                self._futures.popitem(last=False)
            return future
