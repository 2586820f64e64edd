"""The process that does the work of one command, watched by `supervise`."""

from __future__ import annotations

import os
import signal
import sys
import threading
from types import FrameType

from .border import limit_memory
from .cli import main
from .output import complain


def _follow_watcher() -> None:
    """End when the watcher is gone: nobody would tell of a result any more."""

    def follow() -> None:
        """Read until the watcher closes the line, then end."""
        try:
            while os.read(0, 1):
                pass
        except OSError:
            pass
        os._exit(1)

    threading.Thread(target=follow, daemon=True).start()


def _interrupted_once(_: int, __: FrameType | None) -> None:
    """Stop on the first press; further ones must not disturb the clearing up."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    raise KeyboardInterrupt


def run_worker() -> int:
    """Run the command of this process."""
    signal.signal(signal.SIGINT, _interrupted_once)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)  # the watcher keeps order itself
    try:
        limit_memory()
        _follow_watcher()
        return main()
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    code = run_worker()
    for stream in (sys.stdout, sys.stderr):
        try:
            if stream is not None:
                stream.flush()
        except (OSError, ValueError):
            complain("")
    os._exit(code)  # no library may fail while it is unloaded
