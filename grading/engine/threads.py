"""Work shared out among threads."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any


def run_all(work: Callable[[Any], Any], tasks: Iterable[Any], workers: int) -> list:
    """What `work` makes of each task, in order.

    Once a task has failed and those before it are done, or the caller was interrupted, none is
    begun any more.

    Parameters
    ----------
    work : callable
    tasks : iterable
    workers : int
        Threads.

    Returns
    -------
    list
    """
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(work, tasks))
