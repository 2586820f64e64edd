"""Designs of a search worked out by several processes at once, with the results of one."""

from __future__ import annotations

import atexit
import multiprocessing
import os
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from functools import partial
from typing import TypeVar

from .. import parallel
from ..designing.prepared import Prepared
from ..physics.prediction_settings import PredictionSettings
from ..recipe import Recipe
from .evaluator import DesignEvaluator, ImproveSettings, Shared

T = TypeVar("T")
R = TypeVar("R")
Work = Callable[[DesignEvaluator, T], R]

_own: list[DesignEvaluator] = []  # the one of a process that was started for the search


class Workers:
    """Processes that each hold an evaluator of the same wearer; one means this process alone."""

    def __init__(
        self,
        prepared: Prepared,
        recipe: Recipe,
        touch: PredictionSettings,
        chosen: ImproveSettings,
        shared: Shared,
    ) -> None:
        self.evaluator = DesignEvaluator(prepared, recipe, touch, chosen, shared)
        self._pool: ProcessPoolExecutor | None = None
        if chosen.workers > 1:
            context = multiprocessing.get_context("spawn")  # no half-copied threads and locks
            begun = (prepared, recipe, touch, chosen, shared)
            self._pool = ProcessPoolExecutor(chosen.workers, context, _begin, begun)

    def each(self, work: Work[T, R], items: Sequence[T]) -> list[R]:
        """What a function of a module makes of each item with an evaluator, in their order."""
        if self._pool is not None:
            try:
                return list(self._pool.map(partial(_with_own, work), items))
            except BrokenProcessPool:  # one was killed: what is lost is worked out here
                self.stop()
        return [work(self.evaluator, item) for item in items]

    def close(self) -> None:
        """Let the processes go, which have nothing to do any more."""
        if self._pool is not None:
            self._pool.shutdown(wait=True)
            self._pool = None

    def stop(self) -> None:
        """End the processes in the middle of their work."""
        if self._pool is not None:
            for process in multiprocessing.active_children():
                process.kill()
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = None


def _begin(
    prepared: Prepared,
    recipe: Recipe,
    touch: PredictionSettings,
    chosen: ImproveSettings,
    shared: Shared,
) -> None:
    parallel.end_with_parent()
    atexit.register(os._exit, 0)  # libraries complain of what is still held while they are unloaded
    parallel.THREADS = 1  # the other processors have processes of their own
    _own.append(DesignEvaluator(prepared, recipe, touch, chosen, shared))


def _with_own(work: Work[T, R], item: T) -> R:
    return work(_own[0], item)
