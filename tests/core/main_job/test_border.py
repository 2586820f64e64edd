"""The watched command: stopped within a second, nothing half-written, true words, whatever the work does."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import pytest
from sealwright.export.shield import RUN
from sealwright.export.threemf import PrintPart, threemf_bytes
from sealwright.jobs import supervise
from sealwright.jobs.options import parsed
from sealwright.solids.primitives import cylinder

from .test_refusals import head, ply

pytestmark = [
    pytest.mark.heavy,
    pytest.mark.skipif(os.name == "nt", reason="signals, pipes and devices of Unix"),
]
SLOW = 4.0
"""Of a second that is demanded: tests run beside each other on busy machines."""


@pytest.fixture(scope="module")
def scan(tmp_path_factory) -> Path:
    return ply(tmp_path_factory.mktemp("scan") / "marlo.ply", head().vertices, head().faces)


def command(*words: str, **more) -> subprocess.Popen:
    settings = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True, **more}
    return subprocess.Popen([sys.executable, "-m", "sealwright", *words], **settings)


@pytest.mark.parametrize("after", [0.4, 2.0, 6.0])
def test_stop_ends_the_work_and_leaves_nothing_half_written(after: float, scan: Path, tmp_path: Path) -> None:
    run = command("make", str(scan), "--out", str(tmp_path / "new" / "out"))
    time.sleep(after)
    begun = time.monotonic()
    run.send_signal(signal.SIGINT)
    out, err = run.communicate(timeout=60)
    assert run.returncode == 130, err
    assert time.monotonic() - begun < SLOW
    if out:  # the parts were there already
        folder = tmp_path / "new" / "out"
        assert f"Stopped. The parts were written before and are whole in {folder}" in err
        told = json.loads((folder / "made.json").read_text())
        assert told["state"] == "parts" and "body.stl" in told["files"]
        assert {p.name for p in folder.iterdir()} == {*told["files"], "made.json"}
        return
    assert err.strip() == "Stopped; nothing was written."
    assert list(tmp_path.iterdir()) == []


def watched(code: str, out: Path, monkeypatch, stop_at: str = "") -> tuple[int, float]:
    """Exit code, and seconds from the stop to the end, of a watcher whose work is a few lines of Python.

    The stop comes half a second after the work has made a file whose name fits the pattern.
    """
    watch = supervise._Watch(parsed(["make", "x.ply", "--out", str(out)]))
    environment = {**os.environ, RUN: watch.token, "OUT": str(out)}

    def begun(_: object) -> subprocess.Popen:
        return subprocess.Popen(
            [sys.executable, "-c", code], env=environment, stdin=subprocess.PIPE, start_new_session=True
        )

    monkeypatch.setattr(watch, "_begun", begun)
    pressed = [0.0]

    def press() -> None:
        while not list(out.rglob(stop_at)):
            time.sleep(0.02)
        time.sleep(0.5)
        pressed[0] = time.monotonic()
        os.kill(os.getpid(), signal.SIGINT)

    if stop_at:
        threading.Thread(target=press, daemon=True).start()
    code_told = watch.run([])
    return code_told, time.monotonic() - pressed[0]


STUBBORN = """
import os, pathlib, signal, subprocess, sys
signal.signal(signal.SIGINT, signal.SIG_IGN)
out, token = pathlib.Path(os.environ["OUT"]), os.environ["SEALWRIGHT_RUN"]
(out / "pictures").mkdir(parents=True)
for name in (f".{token}-1.part", f"pictures/.{token}-2.part"):
    (out / name).write_text("half")
(out.parent / f".{token}.part").mkdir()
subprocess.Popen([sys.executable, "-c", "import time; time.sleep(120)"])
7 ** (10 ** 8)  # minutes in one call that nothing in its own process can interrupt
"""


def test_work_that_cannot_be_interrupted_is_ended_and_cleared(tmp_path: Path, monkeypatch, capfd) -> None:
    code, seconds = watched(STUBBORN, tmp_path / "new" / "out", monkeypatch, "*-2.part")
    assert code == 130 and seconds < SLOW
    assert list(tmp_path.iterdir()) == []
    assert "Stopped; nothing was written." in capfd.readouterr().err


def test_what_was_there_before_stays(tmp_path: Path, monkeypatch) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (out / "body.stl").write_text("mine")
    (out / ".w1-1.part").write_text("of another run")
    watched(
        STUBBORN.replace('(out / "pictures").mkdir(parents=True)', '(out / "pictures").mkdir()'),
        out,
        monkeypatch,
        "*-2.part",
    )
    assert (out / "body.stl").read_text() == "mine" and (out / ".w1-1.part").read_text() == "of another run"
    assert not [p for p in tmp_path.rglob("*.part") if p.name != ".w1-1.part"]


COMMITS = """
import os, pathlib, signal, time
signal.signal(signal.SIGINT, signal.SIG_IGN)
out, token = pathlib.Path(os.environ["OUT"]), os.environ["SEALWRIGHT_RUN"]
out.mkdir()
mark = out / f".{token}.commit"
mark.touch()
time.sleep(4)
(out / "body.stl").write_text("whole")
mark.unlink()
time.sleep(LEAVES)
"""


@pytest.mark.parametrize("leaves", ["0.0", "0.5"])
def test_names_that_change_are_never_cut(leaves: str, tmp_path: Path, monkeypatch) -> None:
    """Nor is work that takes a moment to leave after them: it has written what it should."""
    work = COMMITS.replace("LEAVES", leaves)
    code, seconds = watched(work, tmp_path / "out", monkeypatch, "*.commit")
    assert code == 0 and seconds > 1.0
    assert [p.name for p in (tmp_path / "out").iterdir()] == ["body.stl"]


@pytest.mark.parametrize(
    ("number", "code", "words"),
    [("SIGKILL", 2, "out-of-memory"), ("SIGABRT", 1, "our fault"), ("SIGSEGV", 1, "our fault")],
)
def test_work_that_dies_is_told_of(
    number: str, code: int, words: str, tmp_path: Path, monkeypatch, capfd
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("HOME", str(tmp_path / "state"))
    died = f"import os, signal; os.kill(os.getpid(), signal.{number})"
    assert watched(died, tmp_path / "out", monkeypatch)[0] == code
    told = capfd.readouterr().err
    assert words in told and "Traceback" not in told
    assert not (tmp_path / "out").exists()
    assert len(list((tmp_path / "state").rglob("fault-*.log"))) == (code == 1)


def test_killed_watcher_takes_its_work_along(scan: Path, tmp_path: Path) -> None:
    run = command("make", str(scan), "--out", str(tmp_path / "out"))
    time.sleep(2.0)
    run.kill()
    run.wait()
    end = time.monotonic() + 60.0
    while any(str(tmp_path) in words for words in _running()):
        assert time.monotonic() < end, "the work goes on behind our back"
        time.sleep(0.2)
    assert not (tmp_path / "out").exists()


def _running() -> list[str]:
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            found.append(path.read_bytes().replace(b"\0", b" ").decode("utf-8", "replace"))
        except OSError:
            continue
    return [words for words in found if "sealwright.jobs.worker" in words]


def test_closed_and_full_output_is_no_fault_of_ours(tmp_path: Path) -> None:
    base = f"{sys.executable} -m sealwright"
    for ending, code in ((">/dev/full", 2), (">&-", 2), ("| true", 0), ("2>/dev/full >/dev/null", 0)):
        done = subprocess.run(
            ["bash", "-c", f"{base} schema report {ending}; exit ${{PIPESTATUS[0]}}"],
            capture_output=True, text=True, timeout=120, check=False,
        )  # fmt: skip
        assert done.returncode == code, (ending, done.stderr)
        assert "Traceback" not in done.stderr and "Exception" not in done.stderr
    refused = f"{base} prepare none.stl 2>&-"
    assert subprocess.run(["bash", "-c", refused], timeout=120, check=False).returncode == 2


def test_folder_is_checked_before_any_work(scan: Path, tmp_path: Path) -> None:
    """Within the time of a start, not after a design."""
    (tmp_path / "file").write_text("in the way")
    for words, code in ((["--out", ""], 2), (["--out", str(tmp_path / "file")], 2)):
        run = command("make", str(scan), *words, cwd=tmp_path)
        _, err = run.communicate(timeout=60)
        assert run.returncode == code and "Reading" not in err
    assert [p.name for p in tmp_path.iterdir()] == ["file"]


def test_print_file_needs_no_room_for_temporary_files(monkeypatch) -> None:
    part = PrintPart("pin", cylinder(5.0, 0.0, 10.0, "pin").mesh)
    whole = threemf_bytes([part])
    monkeypatch.setattr(tempfile, "tempdir", "/nowhere/at/all")
    assert threemf_bytes([part]) == whole


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux counts data of a process")
def test_memory_has_a_ceiling() -> None:
    code = (
        "from sealwright.jobs.border import limit_memory\nimport numpy as np\nlimit_memory()\n"
        "np.ones(100_000_000)\n"
        "try:\n    np.ones(300_000_000)\nexcept MemoryError:\n    print('stopped')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    assert done.stdout == "stopped\n"
