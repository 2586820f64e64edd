"""Files of the maker, read whole: regular files only, and never more than a stated size."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from .errors import DesignError, UnreadableFile, Where

TEXT_BYTES = 5_000_000
"""Most bytes of a recipe, a list of landmarks or of options: a thousand times what they need."""

_CHUNK = 1 << 24


def contents(
    path: str | Path, role: str, most_bytes: int = TEXT_BYTES, refusal: type[DesignError] = UnreadableFile
) -> bytes:
    """All bytes of a regular file.

    Parameters
    ----------
    path : the file.
    role : what it is, in the maker's words.
    most_bytes : a larger file is refused; no more than this is ever read, also where a file grows meanwhile.
    refusal : class of the error.

    Raises
    ------
    DesignError : of the class given: absent, no right, a folder, a pipe or a device, or too large.
    """
    where = Where(role, key=Path(path).name)
    # A pipe without a writer would hold an ordinary open for ever.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        handle = os.open(path, flags)
        try:
            mode = os.fstat(handle).st_mode
            data = _at_most(handle, most_bytes + 1) if stat.S_ISREG(mode) else None
        finally:
            os.close(handle)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise refusal(
            f"The {role} cannot be read: {reason}.", where, "Check the path and the rights."
        ) from error
    if data is None:
        raise refusal(
            f"This {role} is {_kind(mode)}, no ordinary file.",
            where,
            "Give the path of a file that lies on a disk.",
        )
    if len(data) > most_bytes:
        raise refusal(
            f"The {role} has over {most_bytes / 1e6:.0f} MB; so much is not read.",
            where,
            "Give a smaller file.",
        )
    return data


def _at_most(handle: int, limit: int) -> bytes:
    """At most ``limit`` bytes of an open file."""
    chunks: list[bytes] = []
    left = limit
    while left > 0 and (chunk := os.read(handle, min(left, _CHUNK))):
        chunks.append(chunk)
        left -= len(chunk)
    return b"".join(chunks)


def _kind(mode: int) -> str:
    if stat.S_ISDIR(mode):
        return "a folder"
    if stat.S_ISFIFO(mode):
        return "a pipe"
    return "a device or a socket"
