"""A sample of the hostile corpus; the long run is `tools/hostile_run.py` with 500 files and 1,000 options."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

if sys.platform != "linux":
    pytest.skip("copies of a process and their memory are counted on Linux", allow_module_level=True)

from hostile_run import run_all
from trials.places import ROOT

pytestmark = pytest.mark.heavy


@pytest.fixture(autouse=True)
def elsewhere(tmp_path: Path, monkeypatch) -> None:
    """Logs belong here; what other tests of this process keep in memory counts for none of the cases."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setattr("sealwright.jobs.border.limit_memory", lambda: None)


def test_hostile_files_and_options_end_as_meant(tmp_path: Path) -> None:
    """In a process of its own: cases are copies of it, held to the memory of the installed command."""
    command = [sys.executable, str(ROOT / "tools" / "hostile_run.py"), "--folder", str(tmp_path / "run")]
    command += ["--files", "110", "--options", "80", "--seed", "20"]
    paths = os.pathsep.join(str(ROOT / part) for part in ("core", "tools", "."))
    done = subprocess.run(
        command, capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": paths}
    )
    told = re.search(r"(\d+) cases: .* (\d+) wrong$", done.stdout.strip())
    assert told is not None, done.stdout + done.stderr
    assert int(told[1]) >= 190 and told[2] == "0" and done.returncode == 0, done.stdout


def test_a_wrong_end_would_be_seen(tmp_path: Path, monkeypatch) -> None:
    """The check itself can fail: a fault, a leak and a leftover are each told of."""
    import sealwright.jobs.commands as commands
    from hostile_files import Case

    out = tmp_path / "out"

    def leaves(_: object) -> int:
        out.mkdir()
        (out / ".half.part").touch()
        return 0

    monkeypatch.setattr("hostile_run.MOST_BYTES", 1 << 40)  # a copy of this process is as large as it is
    for broken, wrong in ((lambda _: 1 / 0, "ended with 1"), (leaves, "left")):
        monkeypatch.setitem(commands.COMMANDS, "prepare", broken)
        (end,) = run_all([Case("x", ("prepare", "x.stl"), out)], tmp_path)
        assert end.wrong.startswith(wrong)


def test_what_a_case_names_beside_it_lands_in_the_scratch_folder(tmp_path: Path, monkeypatch) -> None:
    import sealwright.jobs.commands as commands
    from hostile_files import Case

    def writes(_: object) -> int:
        Path("beside").mkdir()
        return 0

    monkeypatch.setattr("hostile_run.MOST_BYTES", 1 << 40)  # a copy of this process is as large as it is
    monkeypatch.setitem(commands.COMMANDS, "prepare", writes)
    assert run_all([Case("x", ("prepare", "x.stl"), None)], tmp_path) == []
    assert (tmp_path / "beside").is_dir() and not Path("beside").exists()
