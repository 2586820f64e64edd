"""Jobs of steps, and stages kept by what they depend on."""

from __future__ import annotations

import pytest
from sealwright.errors import BadRecipe
from sealwright.progress import Job, Step, run_to_end, steps_within


def counting(steps: int) -> Job[str]:
    for number in range(steps):
        yield Step(number / steps, f"step {number}")
    return "done"


def test_job_runs_to_its_result_and_tells_every_step() -> None:
    heard: list[Step] = []
    assert run_to_end(counting(4), heard.append) == "done"
    assert [step.fraction for step in heard] == [0.0, 0.25, 0.5, 0.75]
    assert heard[2].label == "step 2"


def test_job_without_steps_gives_its_result() -> None:
    assert run_to_end(counting(0)) == "done"


def test_refusal_comes_out_as_it_is() -> None:
    def refused() -> Job[None]:
        yield Step(0.5, "half")
        raise BadRecipe("No.", "recipe", "Change it.")

    with pytest.raises(BadRecipe, match="No"):
        run_to_end(refused())


def test_closing_a_job_stops_it_where_it_is() -> None:
    closed = []

    def long() -> Job[None]:
        try:
            while True:
                yield Step(0.0, "on and on")
        finally:
            closed.append(True)

    job = long()
    next(job)
    job.close()
    assert closed == [True]


def test_job_within_a_longer_one() -> None:
    def outer() -> Job[str]:
        return (yield from steps_within(counting(2), 0.5, 0.9))

    heard: list[Step] = []
    assert run_to_end(outer(), heard.append) == "done"
    assert [step.fraction for step in heard] == pytest.approx([0.5, 0.7])
