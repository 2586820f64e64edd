"""The recipe's fields as plain data, staged with the extension: Blender registers without the core."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any


def fields_of(cls: type) -> list[dict[str, Any]]:
    """The fields of a settings class with kind, unit, range, default and reason; sections hold theirs."""
    from sealwright.settings import decided, settings_to

    rows = []
    for field in decided(cls):
        row: dict[str, Any] = {"name": field.name, **field.metadata}
        if "class" in row:
            row["fields"] = fields_of(row["class"])
            row["class"] = row["class"].__name__
        if row["kind"] == "sections":
            row["default"] = [settings_to(item) for item in field.default_factory()]  # type: ignore[misc]
        elif row["kind"] != "section":
            row["default"] = field.default
        rows.append(row)
    return rows


def write_fields(path: Path) -> None:
    """Write the fields of `sealwright.recipe.Recipe` as JSON."""
    from sealwright.recipe import Recipe

    text = json.dumps(fields_of(Recipe), indent=1, default=list)
    path.write_text(text + "\n", encoding="utf-8")
