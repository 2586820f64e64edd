"""Sections of the report about the scan, the seal and the body: plain numbers, units in the keys."""

from __future__ import annotations

from typing import Any

import numpy as np

from ...designing.design import Design
from ...designing.fittings import ring_port
from ...designing.prepared import Prepared
from ...hardware.allowance import material_row
from ...hardware.filter_area import medium_row
from ...mesh import Floats
from ...solids.distance import MeshDistance

Section = dict[str, Any]


def scan_section(prepared: Prepared, design: Design) -> Section:
    """Where the skin comes from and how far it can be trusted."""
    face = prepared.face
    known = int(face.known.sum())
    under = design.fit.places if design.fit is not None else None
    moved = face.smoothing.moved_mm[face.known]
    away = _from_raw_scan(prepared, under) if under is not None else None
    return {
        "unit": prepared.unit,
        "mm_per_unit": prepared.mm_per_unit,
        "reference_distortion": prepared.facts.get("reference_distortion"),
        "reference_distortion_error": prepared.facts.get("reference_distortion_error"),
        "reference_flatness_mm": prepared.facts.get("reference_flatness_mm"),
        "wearer_scale": prepared.wearer_scale,
        "triangles": len(prepared.skin.faces),
        "face_size": prepared.size,
        "noise_mm": face.noise_mm,
        "smoothing_bound_mm": face.smoothing.bound_mm,
        "smoothing_largest_mm": float(np.abs(moved).max()) if moved.size else 0.0,
        "guessed_share": float(face.guessed.sum()) / max(known, 1),
        "guessed_share_under_band": _guessed(prepared, under) if under is not None else None,
        "band_to_scan_p95_mm": float(np.percentile(away, 95)) if away is not None else None,
        "band_to_scan_max_mm": float(away.max()) if away is not None else None,
    }


def _from_raw_scan(prepared: Prepared, places: Floats) -> Floats | None:
    """Distances (m,) in mm of the prepared skin under the band from the raw scan, where it was scanned."""
    pq, _ = prepared.face.chart.place_of(places)
    scanned = places[prepared.face.is_measured(pq)]
    return MeshDistance(prepared.skin).to(scanned) if len(scanned) else None


def _guessed(prepared: Prepared, places: Floats) -> float:
    """Share of band points whose skin was filled rather than scanned."""
    pq, _ = prepared.face.chart.place_of(places)
    return float(1.0 - prepared.face.is_measured(pq).mean())


def landmarks_section(prepared: Prepared) -> Section:
    """Landmarks in the face frame with their confidence, by name."""
    return {
        name: {
            "point_mm": [float(c) for c in prepared.landmarks[name]],
            "confidence": float(prepared.confidence.get(name, 1.0)),
        }
        for name in sorted(prepared.landmarks)
    }


def seal_section(design: Design) -> Section | None:
    """The seal line; None for a tube."""
    line = design.seal_line
    if line is None:
        return None
    return {
        "length_mm": line.length_mm,
        "stations": len(line.points),
        "spacing_mm": line.spacing_mm,
        "under_chin": line.under_chin,
        "control_points_mm": line.control,
    }


def contact_section(design: Design) -> Section | None:
    """Gap and width along the seal line; None without a measured body."""
    if design.fit is None:
        return None
    facts, band = design.facts, design.recipe.band
    return {
        "wanted_gap_mm": band.stand_off_mm,
        "wanted_width_mm": band.width_mm,
        "share": facts["contact_share"],
        "band_width_min_mm": facts["band_width_min_mm"],
        "band_width_mean_mm": facts["band_width_mean_mm"],
        **{f"gap_{name}_mm": facts[f"gap_{name}_mm"] for name in ("min", "p5", "median", "p95", "max")},
    }


def clearance_section(design: Design) -> Section:
    """Distance to nose and lips, and entry into the face."""
    body = design.recipe.kind == "body"
    return {
        "wanted_mm": design.recipe.chamber.clearance_mm if body else None,
        "nose_lips_mm": design.facts.get("clearance_nose_lips_mm"),
        "entry_mm": design.facts.get("entry_mm"),
    }


def wall_section(design: Design) -> Section | None:
    """Thickness of the chamber wall; None without a measured body."""
    if design.wall is None:
        return None
    facts = design.facts
    return {
        "wanted_mm": design.wall.wanted_mm,
        "min_mm": facts["wall_min_mm"],
        "mean_mm": facts["wall_mean_mm"],
        "max_mm": facts["wall_max_mm"],
        "within_10_percent_share": facts["wall_within_10_percent_share"],
        "fairing_residual_mm": facts["chamber_fairing_residual_mm"],
        "port_front_mm": facts["port_front_mm"],
        **design.compared_overhang(),
    }


def part_material(design: Design, part: str) -> str:
    """Key of the materials table of a part: soft rings are soft, everything else is the rigid material."""
    port = ring_port(design.ports, part)
    if port is None:
        return design.recipe.allowance.material
    return design.recipe.ports[port].connection.soft_material


def volumes_section(design: Design) -> Section:
    """Volumes of the parts and the dead space."""
    return {
        "parts_mm3": {name: solid.volume for name, solid in design.parts.items()},
        "dead_space_ml": design.facts.get("dead_space_ml"),
    }


def masses_section(design: Design) -> Section:
    """Mass of every part printed solid, and per material, from the materials table."""
    parts: dict[str, Any] = {}
    materials: dict[str, Any] = {}
    for name, solid in design.parts.items():
        key = part_material(design, name)
        density = material_row(key)["density_g_cm3"]
        mass = solid.volume * 1e-3 * float(density["value"])
        parts[name] = {"material": key, "mass_g": mass}
        entry = materials.setdefault(
            key,
            {
                "density_g_cm3": float(density["value"]),
                "confidence": density["confidence"],
                "source": density["source"],
                "mass_g": 0.0,
            },
        )
        entry["mass_g"] += mass
    total = sum(entry["mass_g"] for entry in parts.values())
    return {"parts": parts, "materials": dict(sorted(materials.items())), "total_g": total}


def filter_section(design: Design) -> Section | None:
    """Medium, its area and what it resists; None without a holder."""
    holder = design.facts.get("holder")
    if holder is None:
        return None
    row = medium_row(holder["medium"])
    resistance = row["resistance_pa_s_m"]
    flows = [
        {
            "flow_l_min": float(flow),
            "face_velocity_cm_s": holder[f"face_velocity_at_{flow}_l_min_cm_s"],
            "medium_drop_pa": holder[f"medium_drop_at_{flow}_l_min_pa"],
        }
        for flow in ("30", "85", "95")
    ]
    return {
        "medium": holder["medium"],
        "name": row["name"],
        "shape": holder["holder_shape"],
        "length_mm": holder["medium_length_mm"],
        "width_mm": holder["medium_width_mm"],
        "area_cm2": holder["medium_area_cm2"],
        "resistance_pa_s_m": float(resistance["value"]),
        "resistance_low_pa_s_m": float(resistance.get("low", resistance["value"])),
        "resistance_high_pa_s_m": float(resistance.get("high", resistance["value"])),
        "confidence": resistance["confidence"],
        "source": resistance["source"],
        "efficiency_note": row["efficiency_note"],
        "sheds_fibres": bool(row["sheds_fibres"]),
        "at_flows": flows,
    }
