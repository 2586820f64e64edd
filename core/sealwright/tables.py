"""The shared tables: materials, media, threads, rings, connectors, with source and confidence."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, NotRequired, TypedDict, TypeVar

from .errors import BackendUnavailable, BadRecipe, Where

Row = TypeVar("Row")


class Sourced(TypedDict):
    """A number with where it comes from and how sure it is (V, M or C)."""

    value: float
    confidence: str
    source: str


class Ranged(Sourced):
    """A number with the ends of its range."""

    low: float
    high: float


class MaterialRow(TypedDict):
    """A printing material: what the design, its plan and its maker need to know of it."""

    name: str
    soft: bool
    density_g_cm3: Sourced
    shrink_percent: Sourced
    softening_c: Sourced
    tensile_strength_mpa: Sourced
    layer_adhesion_factor: Sourced
    tensile_modulus_mpa: Sourced
    hardness_shore_a: Sourced | None
    skin_note: str
    heat_note: str


class MediumRow(TypedDict):
    """A filter medium."""

    name: str
    resistance_pa_s_m: Ranged
    efficiency_note: str
    sheds_fibres: bool
    penetration: Ranged
    areal_g_m2: Ranged


class CushionRow(TypedDict):
    """A soft material between band and skin; ``kind`` is how it is made up: foam, lip or liner."""

    name: str
    kind: str
    modulus_kpa: Ranged
    poisson: Ranged
    compression_set_percent: Ranged
    density_g_cm3: Sourced
    shrink_percent: Sourced
    hardness_shore_a: float | None
    skin_note: str
    printed_as: NotRequired[str]


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
    rows: dict[str, dict[str, str]] | list[dict[str, str]] = table(name)[name]
    if isinstance(rows, dict):
        return {key: str(row["name"]) for key, row in rows.items()}
    return {str(row["size"]): str(row["size"]) for row in rows}


def known_row(rows: Mapping[str, Row], key: str, kind: str, setting: str) -> Row:
    """The row of a key that a recipe gives.

    Parameters
    ----------
    rows : the table.
    kind : what its rows are, for the message: "material".
    setting : dotted key of the recipe's value.

    Raises
    ------
    BadRecipe : no such row; the message names those there are.
    """
    if key not in rows:
        raise BadRecipe(
            f"There is no {kind} {key!r} in the table.",
            Where("recipe", key=setting),
            "Use one of: " + ", ".join(sorted(rows)) + ".",
        )
    return rows[key]
