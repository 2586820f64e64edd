"""Progress on a terminal."""

from __future__ import annotations

from typing import TypeVar

from ..progress import Job
from .output import on_terminal

T = TypeVar("T")


def run_showing(job: Job[T], unit: str = "{desc:<42}|{bar}| {percentage:3.0f} %") -> T:
    """Run a job with a progress bar on a terminal."""
    from tqdm import tqdm

    with tqdm(total=100, bar_format=unit, disable=not on_terminal()) as bar:
        while True:
            try:
                step = next(job)
            except StopIteration as done:
                bar.update(100 - bar.n)
                result: T = done.value
                return result
            bar.set_description_str(step.label)
            bar.update(max(100 * step.fraction - bar.n, 0))
