"""Work on both processors: threads of ours, with the linear algebra held to one thread each.

Pieces are cut by the caller, never by the number of threads, so that results are the same on any number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import TypeVar

T = TypeVar("T")
R = TypeVar("R")

THREADS = 2  # pieces at a time


@contextmanager
def own_threads() -> Iterator[int]:
    """How many pieces to work on at a time, with the linear algebra held to one thread each.

    Threads within threads slow each other down many times over. Where nothing can hold the library back
    pieces are worked on one at a time.
    """
    try:
        from threadpoolctl import threadpool_limits
    except ImportError:
        yield 1
        return
    with threadpool_limits(1):
        yield THREADS


def in_threads(work: Callable[[T], R], pieces: Iterable[T]) -> Iterator[R]:
    """The results of pieces of work, in their order."""
    with own_threads() as count, ThreadPoolExecutor(count) as pool:
        yield from pool.map(work, pieces)
