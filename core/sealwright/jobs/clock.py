"""How long the stages of a job take."""

from __future__ import annotations

import time
from typing import TypeVar

from ..progress import Job, Step, with_steps

T = TypeVar("T")


class Clock:
    """Seconds by step label; stages that run beside each other count both."""

    def __init__(self, seconds: dict[str, float] | None = None) -> None:
        self.seconds: dict[str, float] = {} if seconds is None else seconds
        self._label, self._since = "", time.perf_counter()

    def step(self, fraction: float, label: str) -> Step:
        """The next step; the time since the last one is booked on that one."""
        self.stop()
        self._label = label
        return Step(fraction, label)

    def stop(self) -> None:
        """Book the time since the last step."""
        now = time.perf_counter()
        if self._label:
            self.seconds[self._label] = self.seconds.get(self._label, 0.0) + now - self._since
        self._label, self._since = "", now

    def another(self) -> Clock:
        """One for stages beside these, which books in the same place."""
        return Clock(self.seconds)


def scaled(job: Job[T], low: float, high: float, clock: Clock) -> Job[T]:
    """A job whose fractions run from ``low`` to ``high`` of a longer one."""
    return with_steps(job, lambda step: clock.step(low + (high - low) * step.fraction, step.label))
