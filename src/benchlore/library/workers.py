"""Long work on all cores: pieces go to other processes, results come back in order."""

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import active_children, get_context, parent_process
from threading import Thread
from typing import TypeVar

from benchlore.proof import Run, in_turn

Task = TypeVar("Task")
Result = TypeVar("Result")


def cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def working(workers: int) -> Iterator[Run]:
    """Offer so many processes for pieces of work; with one, everything is done here.

    Processes are spawned, not forked: compiled kernels and open databases do not survive a fork.
    """
    if workers <= 1:
        yield in_turn
        return
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"), initializer=_end_with_parent)

    def run(function: Callable[[Task], Result], tasks: Sequence[Task]) -> Iterator[Result]:
        return pool.map(function, tasks)

    try:
        yield run
    except BaseException:
        for worker in active_children():  # what they are at is of no use any more
            worker.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _end_with_parent() -> None:
    """End a worker as soon as the process that it works for is gone, however that ended."""
    parent = parent_process()

    def watch() -> None:
        if parent is not None:
            parent.join()
            os._exit(1)

    Thread(target=watch, daemon=True).start()
