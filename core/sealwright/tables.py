"""The shared tables: materials, media, threads, rings, connectors, with source and confidence."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

from .errors import BackendUnavailable, Where


def tables_folder() -> Path:
    """Where the tables lie: beside the installed core, or in ``shared/`` of a checkout.

    Raises
    ------
    BackendUnavailable : neither is there.
    """
    here = Path(__file__).resolve().parent
    for folder in (here / "tables", here.parent.parent / "shared"):
        if any(folder.glob("*.json")):
            return folder
    raise BackendUnavailable(
        "The shared tables (materials, media, threads, rings, connectors) are missing.",
        Where("installation", key=str(here)),
        "Reinstall the package.",
    )


@cache
def table(name: str) -> dict[str, Any]:
    """One table as plain data, read once; callers must not change it."""
    data: dict[str, Any] = json.loads((tables_folder() / f"{name}.json").read_text(encoding="utf-8"))
    return data


def row_names(name: str) -> dict[str, str]:
    """Key -> name for people of every row of a table of materials, media or rings."""
    rows: dict[str, Any] | list[dict[str, Any]] = table(name)[name]
    if isinstance(rows, dict):
        return {key: str(row["name"]) for key, row in rows.items()}
    return {str(row["size"]): str(row["size"]) for row in rows}
