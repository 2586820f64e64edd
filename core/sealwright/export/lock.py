"""One run at a time in a folder: a lock that ends with its process, however that ends."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ..errors import UnwritableFile, Where

NAME = ".sealwright.lock"


@contextmanager
def folder_lock(folder: Path) -> Iterator[None]:
    """Hold the lock of an existing folder. Its file goes away with it; one left by a kill holds nobody.

    Raises
    ------
    UnwritableFile : another run holds it, or the folder cannot be written to.
    """
    path = folder / NAME
    handle = _taken(path)
    try:
        yield
    finally:
        try:
            if sys.platform != "win32":  # nobody can take the old file any more: whoever gets it looks again
                _gone(path)
        finally:
            os.close(handle)
        if sys.platform == "win32":  # an open file cannot be removed there
            _gone(path)


def _gone(path: Path) -> None:
    with suppress(OSError):
        path.unlink()


def _taken(path: Path) -> int:
    while True:
        try:
            handle = os.open(path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o666)
        except OSError as error:
            raise UnwritableFile(
                f"The folder cannot be written to: {error.strerror or error}.",
                Where("result folder", key=str(path.parent)),
                "Choose a folder you may write to, with enough free space.",
            ) from error
        try:
            _lock(handle)
            if os.path.samestat(os.fstat(handle), path.stat()):
                return handle
            os.close(handle)  # its holder has just removed it: take the new one
        except FileNotFoundError:
            os.close(handle)
        except OSError as error:
            os.close(handle)
            raise UnwritableFile(
                "Another run is at work in this folder.",
                Where("result folder", key=str(path.parent)),
                "Wait until it has ended, or choose another folder.",
            ) from error


def _lock(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
