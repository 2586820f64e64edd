"""The moment in which names change: no key press comes between, and whoever watches this run can see it."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

RUN = "SEALWRIGHT_RUN"
"""Environment variable with the token of a watched run; its unfinished files carry it in their names."""


def run_token() -> str:
    """The token of this run: given by the process that watches it, or this process's own number."""
    return os.environ.get(RUN, "") or f"p{os.getpid()}"


def mark_of(folder: Path, token: str) -> Path:
    """The file that stands in a folder while names change in it."""
    return folder / f".{token}.commit"


@contextmanager
def shielded(folder: Path) -> Iterator[None]:
    """Let the block run to its end whatever key is pressed; a press is forgotten, for the work is done then.

    In a watched run a mark stands in ``folder`` meanwhile, so that the watcher waits. Blocks may be nested.

    Raises
    ------
    OSError : the mark cannot be made.
    """
    mark = mark_of(folder, run_token()) if os.environ.get(RUN) else None
    outermost = mark is None or not mark.exists()
    if mark is not None and outermost:
        mark.touch()
    try:
        with _deaf():
            yield
    finally:
        if mark is not None and outermost:
            with suppress(OSError):
                mark.unlink()


@contextmanager
def _deaf() -> Iterator[None]:
    """Ctrl-C does nothing; only the main thread may say so, in others it never arrives."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or before is None:
        yield
        return
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
