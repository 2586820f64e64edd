# SPDX-License-Identifier: GPL-3.0-or-later
"""Presets: recipes that come along in ``recipes``, and the maker's own in the extension's user folder."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import bpy

from .labels import titled

SHIPPED = Path(__file__).parents[1] / "recipes"
_items: list[tuple[str, str, str]] = []  # Blender keeps only a pointer to the texts of a list made on the fly


def own_folder() -> Path:
    """Where the maker's own presets are kept; Blender leaves it alone on updates."""
    extension = (__package__ or "").rpartition(".")[0]  # the folder is the extension's, not this package's
    return Path(bpy.utils.extension_path_user(extension, path="recipes", create=True))


def presets() -> dict[str, Path]:
    """Name -> file of all presets; own ones hide shipped ones of the same name."""
    found = {path.stem: path for path in sorted(SHIPPED.glob("*.json"))}
    return found | {path.stem: path for path in sorted(own_folder().glob("*.json"))}


def preset_path(name: str) -> Path:
    """The file of a preset; a missing one gives a path that cannot be read, which the reader refuses."""
    return presets().get(name, SHIPPED / f"{name}.json")


def preset_items(_self: Any, _context: Any) -> list[tuple[str, str, str]]:
    """The presets as the items of a menu, shipped ones with what they are."""
    _items[:] = [(name, titled(name.replace("-", " ")), told(path)) for name, path in presets().items()]
    return _items


@lru_cache(maxsize=64)
def told(path: Path) -> str:
    """The line about a shipped preset; none for one of the maker's own."""
    return (
        str(json.loads(path.read_text(encoding="utf-8")).get("about", "")) if path.parent == SHIPPED else ""
    )
