"""The border between a command and the world: every end of it has a code and true words.

0: done. 2: refused, with what, where and how to mend it. 130: stopped by the user. 1: a fault of ours, with a
number and a file that holds the details.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import platform
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from .. import __version__
from ..errors import DesignError, OutOfMemory, Where
from ..export.shield import RUN
from .output import complain
from .parts_told import PartsTold

DONE, FAULT, REFUSED, STOPPED = 0, 1, 2, 130
MOST_MEMORY = 2 * 1024**3
"""Bytes that a command may take; scans of four million triangles need less."""


def guarded(run: Callable[[], int], arguments: argparse.Namespace) -> int:
    """The exit code of a command, whatever happens in it."""
    parts = PartsTold(getattr(arguments, "out", None))
    try:
        return run()
    except DesignError as refusal:
        complain(_refused_words(refusal, parts))
        return REFUSED
    except KeyboardInterrupt:
        if not os.environ.get(RUN):  # a watcher says it itself
            complain(stopped_words(arguments, parts) + "\n")
        return STOPPED
    except MemoryError:
        complain(_refused_words(no_memory(), parts))
        return REFUSED
    except Exception as error:  # the last resort: nothing may reach the user as lines of code
        return _fault(error, arguments)


def _refused_words(refusal: DesignError, parts: PartsTold) -> str:
    return f"Refused ({refusal.code}). {' '.join(filter(None, (refusal.paragraph(), parts.words())))}\n"


def stopped_words(arguments: argparse.Namespace, parts: PartsTold) -> str:
    """What is true after a stop."""
    if parts.words():
        return f"Stopped. {parts.words()}"
    if arguments.command == "refit":
        return (
            f"Stopped. Wearers that were finished are whole and stay in {arguments.out}; "
            "the same command again goes on from there."
        )
    return "Stopped; nothing was written."


def no_memory() -> OutOfMemory:
    """What is told when there is no memory left."""
    return OutOfMemory(
        f"The work needs more memory than there is, or than {MOST_MEMORY / 1024**3:.0f} GiB.",
        Where("computer", key="memory"),
        "Cut away all but the face, or export the scan with fewer triangles.",
    )


def limit_memory() -> None:
    """Keep this process, and those it starts, below `MOST_MEMORY` where the system can do that."""
    try:
        import resource
    except ImportError:  # Windows
        return
    # Data, not address space: libraries reserve far more addresses than they ever fill.
    with suppress(ValueError, OSError):
        _, hard = resource.getrlimit(resource.RLIMIT_DATA)
        most = MOST_MEMORY if hard == resource.RLIM_INFINITY else min(MOST_MEMORY, hard)
        resource.setrlimit(resource.RLIMIT_DATA, (most, hard))


def _fault(error: BaseException, arguments: argparse.Namespace) -> int:
    lines = traceback.format_exception(error)
    report_fault(f"{type(error).__name__} in {arguments.command}", "".join(lines))
    return FAULT


def report_fault(what: str, details: str) -> None:
    """Tell of a fault of ours by a number, and keep the details in a file."""
    number = hashlib.sha256(f"{__version__}{details}".encode(errors="replace")).hexdigest()[:8].upper()
    path = _kept(number, what, details)
    where = f"Details are in {path}. " if path is not None else ""
    complain(
        f"This is our fault (number {number}: {what}). {where}"
        "Please report the number and the file; look first whether names in it should stay private.\n"
    )


def _kept(number: str, what: str, details: str) -> Path | None:
    """A file with the details; None where none can be written."""
    head = f"{time.strftime('%Y-%m-%d %H:%M:%S')} fault {number}: {what}\nSealwright {__version__}, Python "
    head += f"{platform.python_version()}, {platform.platform()}\n\n"
    for folder in log_folders():
        try:
            folder.mkdir(parents=True, exist_ok=True)
            path = folder / f"fault-{number}.log"
            path.write_text(head + details, encoding="utf-8", errors="backslashreplace")
            return path
        except (OSError, ValueError):
            continue
    return None


def log_folders() -> list[Path]:
    """Where logs of this user belong on this system, the best first."""
    folders = []
    with suppress(RuntimeError):  # nobody's home
        if sys.platform == "win32":
            base = os.environ.get("LOCALAPPDATA") or str(Path.home() / "AppData" / "Local")
            folders.append(Path(base) / "Sealwright" / "Logs")
        elif sys.platform == "darwin":
            folders.append(Path.home() / "Library" / "Logs" / "Sealwright")
        else:  # XDG base directories, version 0.8: state that should persist
            base = os.environ.get("XDG_STATE_HOME") or str(Path.home() / ".local" / "state")
            folders.append(Path(base) / "sealwright")
    return folders
