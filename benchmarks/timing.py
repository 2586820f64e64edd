"""Timing shared by all benchmark processes: best of several runs, and the memory of the whole process."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Timing:
    """Best wall time of several runs, s, and the processor time of that run, s (all threads)."""

    wall_s: float
    cpu_s: float
    runs: int


def best_of(runs: int, work: Callable[[], Any]) -> Timing:
    """Run ``work`` several times and keep the fastest: the others tell of the machine, not of the work."""
    results = []
    for _ in range(runs):
        wall, cpu = time.perf_counter(), time.process_time()
        work()
        results.append((time.perf_counter() - wall, time.process_time() - cpu))
    wall_s, cpu_s = min(results)
    return Timing(wall_s, cpu_s, runs)


def peak_memory_mib() -> float | None:
    """Largest resident size this process has had, MiB; None where the system does not say."""
    try:
        import resource
    except ImportError:  # Windows has no such module
        return None
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return float(peak / 2**20 if sys.platform == "darwin" else peak / 2**10)
