"""Pages of the docs that are made from the code: written, or checked to be up to date."""

from __future__ import annotations

import sys
from pathlib import Path


def write_or_check(path: Path, page: str) -> int:
    """Write a page; with ``--check`` on the command line only say whether the written one is the same."""
    if "--check" not in sys.argv:
        path.write_text(page, encoding="utf-8")
        return 0
    current = path.read_text(encoding="utf-8") if path.is_file() else ""
    if current != page:
        sys.stderr.write(f"docs/{path.name} is out of date: run python {Path(sys.argv[0]).as_posix()}\n")
        return 1
    return 0
