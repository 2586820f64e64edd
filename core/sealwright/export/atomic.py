"""Writing files whole or not at all."""

from __future__ import annotations

import errno
import itertools
import os
import re
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from ..errors import UnwritableFile, Where
from .shield import run_token, shielded

_NUMBERS = itertools.count(1)


def write_file(path: Path | str, data: bytes) -> Path:
    """Write one file so that its name holds either the old content or all of the new.

    Raises
    ------
    UnwritableFile : the folder cannot be made or written to, or the disk is full.
    """
    return write_files({Path(path): data})[0]


def write_files(files: Mapping[Path, bytes]) -> list[Path]:
    """Write several files; a failure before the last byte is stored leaves all names as they were.

    Every file is first written under a hidden name in its own folder and flushed to disk; only when all
    are stored are they renamed, and no key press comes between the first name and the last. Folders that were
    made for files that were not written are taken away again. Rights are those of any new file (umask).

    Raises
    ------
    UnwritableFile : a folder cannot be made or written to, or the disk is full.
    """
    stage = Stage()
    try:
        for path, data in files.items():
            stage.add(path, data)
        for path in files:
            if path.is_dir():  # the one thing a rename onto an existing name stumbles over
                raise unwritable(path, IsADirectoryError(errno.EISDIR, "a folder has this name"))
        with shielded(next(iter(files)).parent if files else Path()):
            stage.put()
    finally:
        stage.undo()
    return list(files)


class Stage:
    """Files that are stored under hidden names beside their own, until they are put in place or undone."""

    def __init__(self) -> None:
        self._waiting: list[tuple[Path, Path]] = []
        self._folders: list[Path] = []

    def add(self, path: Path, data: bytes) -> None:
        """Store a file beside its name; its folder is made where there is none.

        Raises
        ------
        UnwritableFile : the folder cannot be made or written to, or the disk is full.
        """
        try:
            self._folders += made_folders(path.parent)
            self._waiting.append((_stored_beside(path, data), path))
        except (OSError, ValueError) as error:
            raise unwritable(path, error) from error

    def put(self, count: int | None = None) -> None:
        """Rename the first ``count`` of those that wait, or all, in the order in which they were added.

        Raises
        ------
        UnwritableFile : a name cannot be taken.
        """
        for temporary, path in self._waiting[:count]:
            try:
                os.replace(temporary, path)  # noqa: PTH105 - the one atomic call
            except OSError as error:
                raise unwritable(path, error) from error
            self._waiting.remove((temporary, path))

    def undo(self) -> None:
        """Take away what was not put in place, and folders that were made for nothing."""
        for temporary, _ in self._waiting:
            with suppress(OSError):
                temporary.unlink()
        for folder in reversed(self._folders):
            with suppress(OSError):  # it holds something
                folder.rmdir()


def unwritable(path: Path, error: Exception) -> UnwritableFile:
    """What is told of a file that cannot be written."""
    reason = getattr(error, "strerror", None) or str(error)
    return UnwritableFile(
        f"The file {path.name} cannot be written: {reason}.",
        Where("result file", key=str(path)),
        "Choose a folder you may write to, with enough free space.",
    )


def made_folders(folder: Path) -> list[Path]:
    """Make a folder with all above it, and give those that were not there before, outermost first."""
    new = []
    here = folder
    while not here.exists() and here != here.parent:
        new.append(here)
        here = here.parent
    folder.mkdir(parents=True, exist_ok=True)
    return new[::-1]


def is_unfinished(path: Path) -> bool:
    """Whether a name is that of a file in the making; a killed run leaves it behind."""
    return bool(re.fullmatch(r"\.[pw][0-9-]+-[0-9]+\.part", path.name)) and path.is_file()


def _stored_beside(path: Path, data: bytes) -> Path:
    """Data stored and flushed under a hidden name in the folder of ``path``."""
    temporary = path.with_name(f".{run_token()}-{next(_NUMBERS)}.part")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    handle = os.open(temporary, flags, 0o666)  # less what the user's umask takes away
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
    except BaseException:
        temporary.unlink()
        raise
    return temporary
