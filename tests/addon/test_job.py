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


def test_a_stopped_job_lets_go_within_a_step(ext):
    """A step of half a minute is left at once, and the lock is free for the next job."""
    begun, closed = threading.Event(), []

    def long():
        try:
            yield ext("core.progress").Step(0.0, "begin")
            begun.set()
            until = time.monotonic() + 30.0
            while time.monotonic() < until:
                sum(range(1000))
            yield ext("core.progress").Step(1.0, "never")
        finally:
            closed.append(True)

    runner = ext("jobs.job").Runner(long())
    runner.start()
    assert begun.wait(10.0)
    runner.stop()
    following = ext("jobs.job").Runner(counting(ext, 2))
    following.start()
    wait_for(following)  # within 10 s, where the step would take 30
    assert following.result == "made" and closed == [True] and runner.result is None


def test_a_library_is_loaded_to_its_end(ext, tmp_path, monkeypatch):
    """A compiled library that was left half loaded could not be loaded again."""
    (tmp_path / "slow_to_load.py").write_text(
        "import time\nfor _ in range(50):\n    time.sleep(0.01)\nwhole = True\n"
    )
    monkeypatch.syspath_prepend(str(tmp_path))
    begun = threading.Event()

    def loading():
        yield ext("core.progress").Step(0.0, "begin")
        begun.set()
        import slow_to_load

        yield ext("core.progress").Step(1.0, str(slow_to_load.whole))

    runner = ext("jobs.job").Runner(loading())
    runner.start()
    assert begun.wait(10.0)
    runner.stop()
    ext("jobs.job").Runner(counting(ext, 1)).run()
    import sys

    assert sys.modules["slow_to_load"].whole
