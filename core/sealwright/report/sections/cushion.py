"""The cushion for the report: what it is made of, how thick, how it is made."""

from __future__ import annotations

from ...cushion.settings import KINDS, cushion_of
from ...designing.design import Design

Section = dict[str, object]


def cushion_section(design: Design) -> Section | None:
    """The cushion between band and skin; None without one."""
    soft = cushion_of(design.recipe.cushion)
    if not soft.there or design.recipe.kind != "body":
        return None
    row = soft.row
    return {
        "kind": soft.kind,
        "kind_name": KINDS[soft.kind],
        "material": soft.material,
        "material_name": row["name"],
        "thickness_mm": soft.thickness_mm,
        "seated_mm": soft.seated_mm,
        "modulus_kpa": soft.modulus_kpa,
        "poisson": soft.poisson,
        "modulus_source": row["modulus_kpa"]["source"],
        "modulus_confidence": row["modulus_kpa"]["confidence"],
        "compression_set_percent": float(row["compression_set_percent"]["value"]),
        "skin_note": row["skin_note"],
    }
