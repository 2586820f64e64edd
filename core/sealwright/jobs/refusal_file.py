"""The picture of a refusal, beside its message: ``refusal.png`` in the result folder, and nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from ..errors import BackendUnavailable, DesignError, UnwritableFile
from ..export.atomic import write_file
from ..report.refusal_picture import is_refusal_picture

REFUSAL = "refusal.png"


@contextmanager
def picture_of_refusal(folder: Path | None) -> Iterator[None]:
    """Run the block; a refusal that can be drawn is drawn into a folder, and its message says where.

    Parameters
    ----------
    folder : the result folder; None draws nothing. A file of the same name that is not ours is left alone.
    """
    try:
        yield
    except DesignError as refusal:
        if folder is not None and refusal.picture is not None:
            refusal.drawn = _written(folder / REFUSAL, refusal)
        raise


def clear_refusal(folder: Path) -> None:
    """Take away the picture of an earlier refusal, when the work is done after all."""
    path = folder / REFUSAL
    with suppress(OSError):
        if is_refusal_picture(path.read_bytes()):
            path.unlink()


def _written(path: Path, refusal: DesignError) -> str:
    """Where the picture was written; "" where there is none."""
    try:
        if path.exists() and not is_refusal_picture(path.read_bytes()):
            return ""
        data = refusal.picture() if refusal.picture is not None else None
        return str(write_file(path, data)) if data is not None else ""
    except (BackendUnavailable, UnwritableFile, OSError):  # the message matters more than its picture
        return ""
