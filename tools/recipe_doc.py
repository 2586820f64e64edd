"""Write docs/recipe.md from the recipe's settings, so that the two never differ.

``python tools/recipe_doc.py`` writes it; ``--check`` only says whether it is up to date.
"""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import Any

from made_page import write_or_check
from sealwright.recipe import FORMAT, Recipe
from sealwright.settings import decided

PAGE = Path(__file__).resolve().parents[1] / "docs" / "recipe.md"
HEAD = f"""# The recipe

One JSON file with everything the maker decided and no geometry of the wearer. Keys that are left out
take their defaults, which are common practice without a source unless the meaning names one. Lists of
sections (ports) are written as JSON lists. Every file begins with `"format": "{FORMAT}"`; files
of format 1 are read too, and what was written otherwise in them is told. `null` means automatic.

*Made by `tools/recipe_doc.py` from the settings in the code.*
"""


def recipe_page() -> str:
    """The whole page."""
    return HEAD + "".join(_sections(Recipe, "recipe", "All decisions of a design."))


def _sections(cls: type, key: str, doc: str) -> list[str]:
    fields = decided(cls)
    plain = [f for f in fields if f.metadata["kind"] not in ("section", "sections")]
    out = [f"\n## `{key}`\n\n{doc}\n"]
    if plain:
        out.append("\n| key | default | range | meaning |\n| --- | --- | --- | --- |\n")
        out += [_row(f) for f in plain]
    for field in fields:
        meta = field.metadata
        if meta["kind"] in ("section", "sections"):
            tail = "[]" if meta["kind"] == "sections" else ""
            out += _sections(meta["class"], f"{key}.{field.name}{tail}", meta["doc"])
    return out


def _row(field: dataclasses.Field[Any]) -> str:
    meta, kind = field.metadata, field.metadata["kind"]
    unit = f" {meta['unit']}" if meta.get("unit", "1") != "1" else ""
    limits, default = "", field.default
    if kind in ("number", "integer"):
        limits = f"{meta['low']:g} to {meta['high']:g}{unit}"
        default = "automatic" if default is None else f"{default:g}{unit}"
    elif kind == "choice":
        limits = ", ".join(meta["options"])
        default = "automatic" if default is None else default
    elif kind == "switch":
        limits, default = "true, false", str(field.default).lower()
    elif kind == "points":
        limits, default = "list of [x, y, z] mm", "automatic"
    return f"| `{field.name}` | {default} | {limits} | {meta['doc']} |\n"


if __name__ == "__main__":
    raise SystemExit(write_or_check(PAGE, recipe_page()))
