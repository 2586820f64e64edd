"""Long steps beside the window: the result arrives, errors pass through, stopping ends them."""

from __future__ import annotations

import threading
import time

import pytest


def counting(ext, steps: int, closed: list | None = None, gate: threading.Event | None = None):
    step = ext("core.progress").Step
    try:
        for index in range(steps):
            if gate is not None:
                gate.wait(10.0)
            yield step(index / steps, f"part {index}")
    finally:
        if closed is not None:
            closed.append(True)
    return "made"


def wait_for(runner) -> None:
    until = time.monotonic() + 10.0
    while not runner.done():
        assert time.monotonic() < until
        time.sleep(0.001)


def test_runs_to_the_end_and_gives_the_result(ext):
    runner = ext("jobs.job").Runner(counting(ext, 5))
    assert runner.run() == "made"
    assert runner.label == "part 4"


def test_works_beside_who_asks(ext):
    gate = threading.Event()
    runner = ext("jobs.job").Runner(counting(ext, 3, gate=gate))
    runner.start()
    assert not runner.done()  # it waits at the gate, and we are here
    gate.set()
    wait_for(runner)
    assert runner.result == "made"
    assert runner.fraction == pytest.approx(2 / 3)


def test_stopping_ends_the_work_and_lets_the_next_one_begin(ext):
    closed, gate = [], threading.Event()
    runner = ext("jobs.job").Runner(counting(ext, 5, closed, gate))
    runner.start()
    runner.stop()
    following = ext("jobs.job").Runner(counting(ext, 2))
    following.start()
    gate.set()
    wait_for(following)
    assert closed == [True]
    assert runner.result is None
    assert following.result == "made"


def test_errors_pass_through(ext):
    def failing():
        yield ext("core.progress").Step(0.5, "half")
        raise ext("core.errors").NotAFace("No face.", "scan", "Scan a face.")

    runner = ext("jobs.job").Runner(failing())
    runner.start()
    with pytest.raises(ext("core.errors").NotAFace):
        wait_for(runner)
    with pytest.raises(ext("core.errors").NotAFace):
        ext("jobs.job").Runner(failing()).run()
