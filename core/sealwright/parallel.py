"""Work on all processors: threads of ours with the linear algebra held to one thread each, and processes.

Pieces are cut by the caller, never by the number of threads, so that results are the same on any number.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from functools import cache
from multiprocessing import connection, parent_process
from typing import TYPE_CHECKING, TypeVar

import numpy as np

if TYPE_CHECKING:
    from threadpoolctl import ThreadpoolController

T = TypeVar("T")
R = TypeVar("R")

THREADS = 2  # pieces at a time


@contextmanager
def own_threads() -> Iterator[int]:
    """How many pieces to work on at a time, with the linear algebra held to one thread each.

    Threads within threads slow each other down many times over. Where nothing can hold the library back
    pieces are worked on one at a time.
    """
    keep_memory()
    control = _control()
    if control is None:
        yield 1
        return
    with control.limit(limits=1):
        yield THREADS


@cache
def keep_memory() -> None:
    """Have freed arrays of up to 31 MiB kept for the next ones, where the C library is the GNU one.

    It hands memory back as soon as more than twice the largest block it ever took from the system lies free,
    and then pays for every page of the next array anew. Taking and freeing one large block, whose pages are
    never touched, raises both bounds (mallopt(3), from memory). Counted on the straps of one mask: a million
    page faults become thirty thousand, and a third of the time is saved.
    """
    np.empty(31 << 20, dtype=np.uint8)


def end_with_parent() -> None:
    """End this process when the one that started it is gone: a killed command leaves nobody working on."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the one that started it hears the keyboard
    parent = parent_process()
    if parent is None:
        return

    def watch() -> None:
        """Wait for the end of the parent, then end."""
        connection.wait([parent.sentinel])
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


@cache
def _control() -> ThreadpoolController | None:
    """What holds the libraries of linear algebra back; None without it. They are looked for once."""
    try:
        from threadpoolctl import ThreadpoolController
    except ImportError:
        return None
    import scipy.linalg  # noqa: F401  (brings its own library, which is to be found)

    return ThreadpoolController()


@contextmanager
def beside(job: Generator[object, None, R]) -> Iterator[Callable[[], R]]:
    """Run a job of steps in a thread of its own while the block does other work; both on `own_threads`.

    What is given waits for the job's end and gives its result, or raises what it raised. A job nobody waited
    for, because the block was left by an error or closed, ends at its next step.
    """
    left = threading.Event()

    def run() -> R:
        """The job, step by step."""
        while not left.is_set():
            try:
                next(job)
            except StopIteration as done:
                result: R = done.value
                return result
        job.close()
        raise RuntimeError("nobody waits for this job")

    with own_threads() as count, ThreadPoolExecutor(1) as pool:
        if count == 1:  # one thing at a time, here when its result is asked for
            yield run
            return
        future = pool.submit(run)
        try:
            yield future.result
        finally:
            left.set()


def in_threads(work: Callable[[T], R], pieces: Iterable[T]) -> Iterator[R]:
    """The results of pieces of work, in their order."""
    with own_threads() as count, ThreadPoolExecutor(count) as pool:
        yield from pool.map(work, pieces)
