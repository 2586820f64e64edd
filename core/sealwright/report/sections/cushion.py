"""The cushion for the report: what it is made of, how thick, how it is made."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ...cushion.made import MouldFacts
from ...cushion.pattern import Pattern
from ...cushion.settings import KINDS, cushion_of
from ...designing.design import Design
from ...solids.boolean import Solid
from ...solids.soundness import soundness_of

Section = dict[str, object]


def cushion_section(design: Design) -> Section | None:
    """The cushion between band and skin; None without one."""
    soft = cushion_of(design.recipe.cushion)
    if not soft.there or design.recipe.kind != "body":
        return None
    row, made = soft.row, design.cushion
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
        "volume_ml": None if made is None else made.volume_mm3 / 1000.0,
        "mass_g": None if made is None else made.mass_g,
        "pattern": None if made is None or made.pattern is None else _pattern(made.pattern),
        "mould": None if made is None or made.mould is None else _mould(made.mould, made.tools),
        "groove_depth_mm": None if made is None else made.groove_depth_mm,
        "eased_mm": None if made is None else made.eased_mm,
        "steps": [] if made is None else list(made.steps),
    }


def _mould(mould: MouldFacts, tools: Mapping[str, Solid]) -> Section:
    """The mould of a cast lip: what goes into it, and its halves."""
    halves: Section = {
        name: {
            "size_mm": solid.mesh.extents,
            "volume_ml": solid.volume / 1000.0,
            "soundness": soundness_of(solid.mesh, name).as_dict(),
        }
        for name, solid in tools.items()
    }
    return {"poured_ml": mould.poured_ml, "vents": mould.vents, "halves": halves}


def _pattern(pattern: Pattern) -> Section:
    """The pieces of a foam strip, and how well they lie on the hard band."""
    return {
        "area_mm2": pattern.area_mm2,
        "band_area_mm2": pattern.space_area_mm2,
        "length_mm": pattern.length_mm,
        "band_length_mm": pattern.space_length_mm,
        "stretch_p95": pattern.stretch_p95,
        "stretch_max": pattern.stretch_max,
        "pieces": [
            {
                "name": piece.name,
                "joints": list(piece.ends),
                "area_mm2": piece.area_mm2,
                "length_mm": piece.length_mm,
                "size_mm": np.ptp(piece.outline, axis=0),
            }
            for piece in pattern.pieces
        ],
    }
