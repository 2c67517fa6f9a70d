"""Work shared out among threads."""

from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from typing import Any


def run_all(work: Callable[[Any], Any], tasks: Iterable[Any], workers: int) -> list:
    """What `work` makes of each task, in no order; the caller's thread is one of the workers.

    A thread that is done with a task takes the next itself. Once a task has failed, or the caller
    was interrupted, none is begun any more.

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
    waiting = iter(list(tasks))

    def run():
        try:
            return [work(task) for task in waiting]
        finally:
            list(waiting)  # takes what is left

    with ThreadPoolExecutor(workers) as pool:
        others = [pool.submit(run) for _ in range(workers - 1)]
        return run() + [made for other in others for made in other.result()]
