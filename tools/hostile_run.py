"""The hostile corpus through the command line: every end of it must be one that is meant.

``python tools/hostile_run.py --files 500 --options 1000`` (Linux): exit 0, 2 or 130 only (3 for a refit with
refused scans), at most 2 GiB and 60 s, no lines of code on the screen, nothing half-written. Files stay in
``--folder`` for looking at; the seed is said.
"""

from __future__ import annotations

import argparse
import os
import resource
import signal
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from hostile_files import Case, file_cases, option_cases

MOST_SECONDS, MOST_BYTES = 60, 2 * 1024**3


@dataclass(frozen=True)
class End:
    """How a case ended: exit code, seconds of the processor, bytes at the peak, what is wrong with that."""

    case: Case
    code: int
    seconds: float
    peak: int
    said: str
    wrong: str


def run(case: Case, scratch: Path) -> End:
    """One case in a forked copy of this process; what it names beside it lands in the scratch folder."""
    heard = scratch.resolve() / "heard.txt"
    child = os.fork()
    if child == 0:
        os.chdir(scratch)
        _inside(case, heard)
    begun = time.monotonic()
    while True:
        pid, status, usage = os.wait4(child, os.WNOHANG)
        if pid:
            break
        if time.monotonic() - begun > 10 * MOST_SECONDS:  # waiting, not working: a pipe, an endless read
            os.kill(child, signal.SIGKILL)
        time.sleep(0.002)
    code, said = os.waitstatus_to_exitcode(status), heard.read_text(errors="replace")
    seconds, peak = usage.ru_utime + usage.ru_stime, usage.ru_maxrss * 1024
    return End(case, code, seconds, peak, said, _wrong(case, code, seconds, peak, said))


def _inside(case: Case, heard: Path) -> None:
    """The child: what the installed command's worker does."""
    handle = os.open(heard, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(handle, 1)
    os.dup2(handle, 2)
    sys.stdout = open(1, "w", closefd=False)  # noqa: SIM115
    sys.stderr = open(2, "w", closefd=False, errors="backslashreplace")  # noqa: SIM115
    code = 99
    try:
        from sealwright.jobs.border import limit_memory
        from sealwright.jobs.cli import main

        limit_memory()
        resource.setrlimit(resource.RLIMIT_CPU, (2 * MOST_SECONDS, 2 * MOST_SECONDS + 5))
        code = main(list(case.words))
    except SystemExit as stop:
        code = stop.code if isinstance(stop.code, int) else 98
    finally:
        for stream in (sys.stdout, sys.stderr):
            stream.flush()
        os._exit(code)


def _wrong(case: Case, code: int, seconds: float, peak: int, said: str) -> str:
    if code not in (0, 2, 130) and not (code == 3 and case.words[0] == "refit"):
        return f"ended with {code}"
    if seconds > MOST_SECONDS:
        return f"took {seconds:.0f} s"
    if peak > MOST_BYTES:
        return f"took {peak / 1024**3:.1f} GiB"
    leaks = [
        word for word in ("Traceback", "array([", "np.float64", "object at 0x", "Warning:") if word in said
    ]
    if leaks:
        return f"said {leaks[0]}"
    if case.out is not None and case.out.is_dir():
        left = [p.name for p in case.out.rglob("*") if p.name.startswith(".")]
        if left or code == 2:
            return f"left {left or case.out.name}"
    return ""


def run_all(cases: list[Case], scratch: Path, tell: bool = False) -> list[End]:
    """All cases; those that ended wrongly."""
    import sealwright.jobs.commands  # noqa: F401 - loaded once, before the copies are made
    import trimesh  # noqa: F401

    bad, codes, most_s, most_b = [], dict[int, int](), 0.0, 0
    for case in cases:
        end = run(case, scratch)
        codes[end.code] = codes.get(end.code, 0) + 1
        most_s, most_b = max(most_s, end.seconds), max(most_b, end.peak)
        if end.wrong:
            bad.append(end)
            if tell:
                print(f"WRONG: {end.wrong}: {' '.join(map(repr, case.words))}\n{end.said[-1500:]}")
    if tell:
        ends = ", ".join(f"{number} with {code}" for code, number in sorted(codes.items()))
        print(
            f"{len(cases)} cases: {ends}; at most {most_s:.1f} s and {most_b / 1024**2:.0f} MiB; "
            f"{len(bad)} wrong"
        )
    return bad


def main() -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--files", type=int, default=500)
    parser.add_argument("--options", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--folder", type=Path, default=Path("out/hostile"))
    asked = parser.parse_args()
    asked.folder = asked.folder.resolve()
    files = file_cases(asked.folder / "files", asked.files, asked.seed)
    options = option_cases(asked.folder / "options", asked.options, asked.seed)
    print(f"seed {asked.seed}: {len(files)} files, {len(options)} combinations of options")
    return min(len(run_all([*files, *options], asked.folder, tell=True)), 1)


if __name__ == "__main__":
    raise SystemExit(main())
