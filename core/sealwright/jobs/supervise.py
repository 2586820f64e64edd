"""The installed command: it runs the work in a process of its own and watches it.

Geometry kernels cannot be interrupted and can die without a word. The watcher can: on Ctrl-C it ends the work
within a second, takes away what was unfinished, and says what is true.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import FrameType

from ..export.shield import RUN, mark_of
from .border import DONE, FAULT, REFUSED, STOPPED, no_memory, report_fault, stopped_words
from .options import parsed
from .output import complain
from .parts_told import PartsTold

PATIENCE_S = 0.6
"""After a stop the work may end by itself for so long."""

COMMIT_S = 20.0
"""While files get their names it may take longer: this is never cut."""

LEAVE_S = 2.0
"""After that the work may take so long to leave: cut then, it would be told to have written nothing."""

_STOPS = [signal.SIGINT, signal.SIGTERM] + ([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command in a process of its own and give its exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    arguments = parsed(words)  # wrong words, help and version need no work
    return _Watch(arguments).run(words)


class _Watch:
    """One watched run."""

    def __init__(self, arguments: argparse.Namespace) -> None:
        self.arguments = arguments
        self.out: Path | None = getattr(arguments, "out", None)
        self.token = f"w{os.getpid()}-{time.time_ns() % 10**9}"
        self.new = _absent(self.out)
        self.parts = PartsTold(self.out)
        self.stopped = 0

    def run(self, words: Sequence[str]) -> int:
        """Start the work, wait for it, and tell of its end."""
        # Until the work listens, a stop must reach nothing in it: what is ignored here is ignored there.
        before = {stop: signal.signal(stop, signal.SIG_IGN) for stop in _STOPS}
        try:
            work = self._begun(words)
            for stop in _STOPS:
                signal.signal(stop, self._stop)
            code = self._ended(work)
        finally:
            for stop, handler in before.items():
                signal.signal(stop, handler)
        return self._exit_code(code)

    def _stop(self, number: int, _: FrameType | None) -> None:
        self.stopped = self.stopped or number

    def _begun(self, words: Sequence[str]) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "sealwright.jobs.worker", *words]
        # The work gets its own group, so that all of it can be ended together; its input is our life line.
        own = {} if sys.platform == "win32" else {"start_new_session": True}
        environment = {**os.environ, RUN: self.token, "PYTHONPATH": _import_path()}
        return subprocess.Popen(command, stdin=subprocess.PIPE, env=environment, **own)  # type: ignore[call-overload,no-any-return]

    def _ended(self, work: subprocess.Popen[bytes]) -> int:
        asked = until = 0.0
        while True:
            try:
                return int(work.wait(timeout=0.05))
            except subprocess.TimeoutExpired:
                pass
            if not self.stopped:
                continue
            now = time.monotonic()
            if not asked:
                asked, until = now, now + PATIENCE_S
                _interrupt(work)
            if self._commits():
                until = min(now + LEAVE_S, asked + COMMIT_S)
            if now > until:
                _end(work)
                return int(work.wait())

    def _commits(self) -> bool:
        """Whether names change at this moment."""
        return self.out is not None and any(
            mark_of(place, self.token).exists() for place in (self.out, self.out.parent)
        )

    def _exit_code(self, code: int) -> int:
        """Clean up, and say how it ended where the work could not."""
        if code in (DONE, REFUSED, FAULT):
            return code
        self._remove_unfinished()
        if self.stopped or code == STOPPED:
            complain("\n" + stopped_words(self.arguments, self.parts) + "\n")
            stop = self.stopped or signal.SIGINT
            return STOPPED if stop == signal.SIGINT else 128 + int(stop)
        if code in (-getattr(signal, "SIGKILL", 9), 137, -getattr(signal, "SIGXCPU", 24)):
            told = " ".join(filter(None, (no_memory().paragraph(), self.parts.words())))
            complain(f"Refused ({no_memory().code}). {told}\n")
            return REFUSED
        report_fault(f"the work ended with code {code}", f"{self.arguments.command} ended with code {code}\n")
        return FAULT

    def _remove_unfinished(self) -> None:
        """Take away the unfinished files of this run, and folders that were made for them."""
        if self.out is None:
            return
        places = [self.out.parent, self.out]
        with suppress(OSError):
            places += [p for p in self.out.iterdir() if p.is_dir()]
        for place in places:
            with suppress(OSError):
                for path in place.glob(f".*{self.token}*"):
                    shutil.rmtree(path, ignore_errors=True)
                    with suppress(OSError):
                        path.unlink()
        for folder in [*places[2:], *reversed(self.new)]:
            if folder in self.new or folder.parent in self.new:
                with suppress(OSError):  # it holds something
                    folder.rmdir()


def _absent(folder: Path | None) -> list[Path]:
    """Folders that are not there yet, outermost first."""
    found: list[Path] = []
    while folder is not None and not folder.exists() and folder != folder.parent:
        found.insert(0, folder)
        folder = folder.parent
    return found


def _import_path() -> str:
    """Where this package is found, in front of what was said: the work must be of the same copy."""
    here = str(Path(__file__).resolve().parents[2])
    return os.pathsep.join([here, *filter(None, [os.environ.get("PYTHONPATH")])])


def _interrupt(work: subprocess.Popen[bytes]) -> None:
    if sys.platform != "win32":  # there the keyboard reaches both
        with suppress(OSError):
            work.send_signal(signal.SIGINT)


def _end(work: subprocess.Popen[bytes]) -> None:
    """End the work and all that it started."""
    if sys.platform == "win32":
        work.kill()
    else:
        with suppress(OSError):
            os.killpg(work.pid, signal.SIGKILL)


if __name__ == "__main__":
    sys.exit(main())
