"""Writing files whole or not at all."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from ..errors import UnwritableFile, Where


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
    are stored are they renamed.

    Raises
    ------
    UnwritableFile : a folder cannot be made or written to, or the disk is full.
    """
    made: list[tuple[str, Path]] = []
    path = Path()
    try:
        for path, data in files.items():
            made.append((_stored_beside(path, data), path))
        for _, path in made:
            if path.is_dir():  # the one thing a rename onto an existing name stumbles over
                raise IsADirectoryError(errno.EISDIR, "a folder has this name")
        for temporary, path in made:
            os.replace(temporary, path)  # noqa: PTH105 - the one atomic call
    except OSError as error:
        for temporary, _ in made:
            with suppress(FileNotFoundError):
                Path(temporary).unlink()
        raise UnwritableFile(
            f"The file {path.name} cannot be written: {error.strerror or error}.",
            Where("result file", key=str(path)),
            "Choose a folder you may write to, with enough free space.",
        ) from error
    return [path for _, path in made]


def _stored_beside(path: Path, data: bytes) -> str:
    """Data stored and flushed under a hidden name in the folder of ``path``."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        Path(temporary).chmod(0o644)  # the temporary file is private; results are ordinary files
    except OSError:
        Path(temporary).unlink()
        raise
    return temporary
