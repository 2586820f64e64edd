"""Whether a run has written the parts of its design before it was stopped or refused."""

from __future__ import annotations

from pathlib import Path

from ..errors import DesignError
from ..export.folder import MANIFEST, read_manifest


class PartsTold:
    """Looks at a result folder at the start of a run, and again at its end.

    Parameters
    ----------
    folder : where the run writes; None for one that writes no folder.
    """

    def __init__(self, folder: Path | None) -> None:
        self._folder = folder
        self._before = self._list()

    def words(self) -> str:
        """What is true of the folder now, in a sentence; "" where this run has written no parts."""
        if self._folder is None or self._list() == self._before:
            return ""
        try:
            known = read_manifest(self._folder)
        except DesignError:
            return ""
        if known is None or known.state != "parts":
            return ""
        return f"The parts were written before and are whole in {self._folder}; report and pictures are not."

    def _list(self) -> tuple[int, int] | None:
        """What tells one writing of the folder's list from another."""
        if self._folder is None:
            return None
        try:
            told = (self._folder / MANIFEST).stat()
        except (OSError, ValueError):
            return None
        return told.st_ino, told.st_mtime_ns
