"""Long steps in slices: every label passes by, the result arrives, errors pass through, closing stops."""

from __future__ import annotations

import pytest


def counting(ext, steps: int, closed: list | None = None):
    step = ext("core.progress").Step
    try:
        for index in range(steps):
            yield step(index / steps, f"part {index}")
    finally:
        if closed is not None:
            closed.append(True)
    return "made"


def test_runs_to_the_end_and_gives_the_result(ext):
    runner = ext("jobs.job").Runner(counting(ext, 5))
    assert runner.advance(10.0)
    assert runner.result == "made"
    assert runner.label == "part 4"


def test_gives_the_window_back_after_its_budget(ext, monkeypatch):
    job, clock = ext("jobs.job"), iter(0.01 * tick for tick in range(1000))
    monkeypatch.setattr(job.time, "perf_counter", lambda: next(clock))  # 0.01 s between two looks
    runner = job.Runner(counting(ext, 50))
    assert not runner.advance(0.035)
    # One look sets the end, one follows each step: the fourth step is the first past 0.035 s.
    assert runner.label == "part 3"
    assert 0.0 < runner.fraction < 0.9


def test_at_least_one_step_per_slice(ext):
    runner = ext("jobs.job").Runner(counting(ext, 3))
    labels = []
    while not runner.advance(0.0):
        labels.append(runner.label)
    assert labels == ["part 0", "part 1", "part 2"]


def test_closing_stops_the_work(ext):
    closed: list = []
    runner = ext("jobs.job").Runner(counting(ext, 5, closed=closed))
    runner.advance(0.0)
    runner.close()
    assert closed == [True]


def test_errors_pass_through(ext):
    def failing():
        yield ext("core.progress").Step(0.5, "half")
        raise ext("core.errors").NotAFace("No face.", "scan", "Scan a face.")

    runner = ext("jobs.job").Runner(failing())
    with pytest.raises(ext("core.errors").NotAFace):
        runner.advance(10.0)
