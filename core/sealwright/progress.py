"""Long work as steps: generators that say where they are, so that a window can redraw and cancel."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import TypeVar

T = TypeVar("T")
S = TypeVar("S")
U = TypeVar("U")


@dataclass(frozen=True)
class Step:
    """Where a job is: fraction done (0 to 1) and what comes next, in the maker's words."""

    fraction: float
    label: str


Job = Generator[Step, None, T]


def run_to_end(job: Generator[S, None, T], tell: Callable[[S], None] | None = None) -> T:
    """Run a job without pausing and give its result; ``tell`` hears every step."""
    while True:
        try:
            step = next(job)
        except StopIteration as done:
            result: T = done.value
            return result
        if tell is not None:
            tell(step)


def with_steps(job: Generator[S, None, T], said: Callable[[S], U]) -> Generator[U, None, T]:
    """The same work, whose steps are ``said`` in another way."""
    while True:
        try:
            step = next(job)
        except StopIteration as done:
            result: T = done.value
            return result
        yield said(step)


def steps_within(job: Job[T], low: float, high: float) -> Job[T]:
    """A job as part of a longer one: its fractions run from ``low`` to ``high``."""
    return with_steps(job, lambda step: Step(low + (high - low) * step.fraction, step.label))
