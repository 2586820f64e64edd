"""Where the checkout and the open face data lie: the one place that knows."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SCANS = ROOT.parent / "shared" / "scans"


def scans_expected() -> bool:
    """Whether absent open face data are a fault: under CI, or with a shared folder beside the checkout."""
    return os.environ.get("CI", "").lower() in ("1", "true") or SCANS.parent.is_dir()


def open_data(name: str) -> Path:
    """A file of the open face data; ``name`` without an ending finds a PLY or STL.

    Raises
    ------
    FileNotFoundError : it is expected and absent. Where nothing is expected, the test is skipped instead.
    """
    for ending in ("", ".ply", ".stl"):
        path = SCANS / f"{name}{ending}"
        if path.is_file():
            return path
    if scans_expected():
        raise FileNotFoundError(f"The open face data lack {name}: {SCANS} must hold it.")
    pytest.skip(f"the open face data ({name}) are not beside this checkout")
