"""Sections that follow from plain sums: breathing resistance, rebreathed air, size of the face."""

from __future__ import annotations

import math

from ...anthropometry.sizing import SizingSettings, size_wearer
from ...designing.prepared import Prepared
from ...errors import DesignError
from ...limits import limit
from ...physics.weaknesses import assumptions
from ...predict.air import Breathing


def breathing_section(breathing: Breathing | None) -> dict[str, object] | None:
    """Resistance and rebreathed carbon dioxide of a body with a holder; None for a tube or a preview."""
    if breathing is None:
        return None
    airway, dead, co2 = breathing.airway, breathing.dead_space, limit("carbon_dioxide")
    return {
        "narrowest_bore_mm": airway.port_bore_mm,
        "valve_bore_mm": airway.valve_bore_mm,
        "dead_space_ml": dead.total_ml,
        "dead_space_chamber_ml": dead.chamber_ml,
        "dead_space_port_ml": dead.port_ml,
        "dead_space_holder_ml": dead.holder_ml,
        "dead_space_valve_ml": dead.valve_ml,
        "resistance": _resistance(breathing),
        "limits": [
            {
                "name": check.limit.name,
                "phase": check.limit.phase,
                "scope": check.limit.scope,
                "flow_l_min": float(check.limit.flow_l_min),
                "value_pa": check.value_pa,
                "low_pa": check.low_pa,
                "high_pa": check.high_pa,
                "limit_pa": check.limit.limit_pa,
                "kept": check.passed,
                "confidence": check.limit.confidence,
                "source": check.limit.source,
            }
            for check in breathing.limits
        ],
        "carbon_dioxide": [
            {
                "breath": row.name,
                "tidal_l": row.tidal_l,
                "rate_per_min": float(row.rate_per_min),
                "inhaled_percent": row.inhaled_percent,
                "low_percent": row.low_percent,
                "high_percent": row.high_percent,
                "limit_percent": row.limit_percent,
                "kept": row.passed,
            }
            for row in breathing.rebreathing
        ],
        "carbon_dioxide_confidence": co2.confidence,
        "carbon_dioxide_source": co2.source,
        "assumptions": [*assumptions("resistance"), *assumptions("rebreathing")],
    }


def _resistance(breathing: Breathing) -> list[dict[str, str | float]]:
    rows = zip(breathing.resistance, breathing.resistance_range, strict=True)
    return [
        {
            "phase": row.phase,
            "flow_l_min": row.flow_l_min,
            "medium_pa": row.medium_pa,
            "port_pa": row.port_pa,
            "valve_pa": row.valve_pa,
            "total_pa": row.total_pa,
            "total_low_pa": low,
            "total_high_pa": high,
        }
        for row, (low, high) in rows
    ]


def sizing_section(prepared: Prepared, settings: SizingSettings) -> dict[str, object] | None:
    """Measures of the face among others; None where sellion or menton is missing.

    Parameters
    ----------
    settings : how sure the landmarks are.
    """
    try:
        sizing = size_wearer(dict(prepared.landmarks), prepared.confidence, settings=settings)
    except DesignError as error:
        if error.code != "landmark":
            raise
        return None
    return {
        "cell": sizing.cell,
        "cell_chances": {str(cell): chance for cell, chance in sizing.cell_chances.items()},
        "confidence": sizing.confidence,
        "text": sizing.text,
        "measures": {
            name: {
                "value_mm": m.value_mm,
                "error_mm": m.error_mm if math.isfinite(m.error_mm) else None,
                "confidence": m.confidence,
                "percentile": {sex: float(p) for sex, p in m.percentiles.items()},
                "table_confidence": m.table_confidence,
                "source": m.source,
                "note": m.note,
            }
            for name, m in sizing.measures.items()
        },
    }
