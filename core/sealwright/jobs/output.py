"""What is said to the user: on screens that may be closed, full, or know few letters."""

from __future__ import annotations

import errno
import os
import sys
from contextlib import suppress
from typing import TextIO


def say(text: str) -> bool:
    """Write to the standard output; False where it cannot take the text (full, or never open).

    A reader that has seen enough and went away is no failure.
    """
    stream = sys.stdout
    if stream is None:  # closed before we began
        return False
    _lenient(stream)
    try:
        stream.write(text)
        stream.flush()
    except (OSError, ValueError) as error:
        _drop(stream)
        gone = isinstance(error, BrokenPipeError) or getattr(error, "errno", 0) in (errno.EPIPE, errno.EINVAL)
        return gone and not isinstance(error, ValueError)
    return True


def complain(text: str) -> None:
    """Write to the standard error; where that is impossible, nobody is there to hear it."""
    stream = sys.stderr
    if stream is None:
        return
    _lenient(stream)
    try:
        stream.write(text)
        stream.flush()
    except (OSError, ValueError):
        _drop(stream)


def on_terminal() -> bool:
    """Whether progress can be shown."""
    try:
        return sys.stderr is not None and sys.stderr.isatty()
    except ValueError:
        return False


def _lenient(stream: TextIO) -> None:
    """Letters that the screen does not know are written as codes."""
    with suppress(AttributeError, ValueError, OSError):
        stream.reconfigure(errors="backslashreplace")  # type: ignore[attr-defined]


def _drop(stream: TextIO) -> None:
    """Point a broken stream to nowhere, so that nothing complains about it again at the end."""
    with suppress(OSError, ValueError, AttributeError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
