"""Sections of the report about the scan, the seal and the body: plain numbers, units in the keys."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np

from ...designing.design import Design
from ...designing.filter_air import medium_area_mm2
from ...designing.part_material import part_mass_g, part_material
from ...designing.prepared import Prepared
from ...designing.shape import seated_band
from ...hardware.allowance import material_row
from ...hardware.filter_area import judge_filter, medium_row
from ...verdicts.measured import ScanMeasured

Section = dict[str, object]


def reference_numbers(prepared: Prepared) -> dict[str, float | None]:
    """How well the object of known size was measured; None by name where the scan has none."""
    found = prepared.reference
    return {
        "reference_distortion": None if found is None else found.distortion,
        "reference_distortion_error": None if found is None else found.uncertainty,
        "reference_flatness_mm": None if found is None else found.flatness_mm,
    }


def scan_section(prepared: Prepared, measured: ScanMeasured) -> Section:
    """Where the skin comes from and how far it can be trusted."""
    face = prepared.face
    known = int(face.known.sum())
    moved = face.smoothing.moved_mm[face.known]
    return {
        "unit": prepared.unit,
        "mm_per_unit": prepared.mm_per_unit,
        **reference_numbers(prepared),
        "wearer_scale": prepared.wearer_scale,
        "triangles": len(prepared.skin.faces),
        "face_size": prepared.size,
        "noise_mm": measured.noise_mm,
        "smoothing_bound_mm": measured.smoothing_bound_mm,
        "smoothing_largest_mm": float(np.abs(moved).max()) if moved.size else 0.0,
        "guessed_share": float(face.guessed.sum()) / max(known, 1),
        "guessed_share_under_band": measured.guessed_share_under_band,
        "band_to_scan_p95_mm": measured.band_to_scan_p95_mm,
        "band_to_scan_max_mm": measured.band_to_scan_max_mm,
    }


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
    facts, band = design.fit.facts, design.recipe.band
    return {
        "wanted_gap_mm": seated_band(design.recipe).stand_off_mm,
        "wanted_width_mm": band.width_mm,
        "touch_mm": facts.touch_mm,
        "cushion_reach_mm": facts.cushion_reach_mm,
        "share": facts.contact_share,
        "band_width_min_mm": facts.band_width_min_mm,
        "band_width_mean_mm": facts.band_width_mean_mm,
        "gap_min_mm": facts.gap_min_mm,
        "gap_p5_mm": facts.gap_p5_mm,
        "gap_median_mm": facts.gap_median_mm,
        "gap_p95_mm": facts.gap_p95_mm,
        "gap_max_mm": facts.gap_max_mm,
    }


def clearance_section(design: Design) -> Section:
    """Distance to nose and lips, and entry into the face."""
    body = design.recipe.kind == "body"
    return {
        "wanted_mm": design.recipe.chamber.clearance_mm if body else None,
        "nose_lips_mm": design.clearance.nearest_mm if design.clearance is not None else None,
        "entry_mm": design.entry.deepest_mm if design.entry is not None else None,
    }


def wall_section(design: Design) -> Section | None:
    """Thickness of the chamber wall; None without a measured body."""
    if design.wall is None or design.shape is None:
        return None
    facts, overhang = design.wall.facts, design.compared_overhang()
    return {
        "wanted_mm": facts.wanted_mm,
        "min_mm": facts.min_mm,
        "mean_mm": facts.mean_mm,
        "max_mm": facts.max_mm,
        "within_10_percent_share": facts.within_10_percent_share,
        "fairing_residual_mm": design.shape.facts.fairing_residual_mm,
        "port_front_mm": design.shape.facts.port_front_mm,
        **({} if overhang is None else asdict(overhang)),
    }


def volumes_section(design: Design) -> Section:
    """Volumes of the parts and the dead space."""
    return {
        "parts_mm3": {name: solid.volume for name, solid in design.parts.items()},
        "chamber_ml": design.chamber_ml,
    }


def masses_section(design: Design) -> Section:
    """Mass of every part printed solid, and per material, from the materials table."""
    grams = {name: part_mass_g(design, name) for name in design.parts}
    keys = {name: part_material(design, name) for name in grams}
    return {
        "parts": {name: {"material": keys[name], "mass_g": mass} for name, mass in grams.items()},
        "materials": {
            key: {
                "density_g_cm3": material_row(key)["density_g_cm3"]["value"],
                "confidence": material_row(key)["density_g_cm3"]["confidence"],
                "source": material_row(key)["density_g_cm3"]["source"],
                "mass_g": sum(mass for name, mass in grams.items() if keys[name] == key),
            }
            for key in sorted(set(keys.values()))
        },
        "total_g": sum(grams.values()),
    }


def filter_section(design: Design) -> Section | None:
    """Medium, its area and what it resists; None without a holder."""
    if design.holder is None:
        return None
    sizes, medium = design.holder.facts.sizes, design.holder.facts.medium
    if len(design.holders) > 1:  # air goes through all of them side by side
        medium = judge_filter(medium.medium, medium_area_mm2(design.recipe)).facts
    row = medium_row(medium.medium)
    resistance = row["resistance_pa_s_m"]
    flows = [
        {"flow_l_min": at.flow_l_min, "face_velocity_cm_s": at.velocity_cm_s, "medium_drop_pa": at.drop_pa}
        for at in sorted(medium.at_flows, key=lambda at: at.flow_l_min)
    ]
    return {
        "medium": medium.medium,
        "name": row["name"],
        "shape": sizes.holder_shape,
        "length_mm": sizes.medium_length_mm,
        "width_mm": sizes.medium_width_mm,
        "area_cm2": medium.area_cm2,
        "resistance_pa_s_m": float(resistance["value"]),
        "resistance_low_pa_s_m": float(resistance.get("low", resistance["value"])),
        "resistance_high_pa_s_m": float(resistance.get("high", resistance["value"])),
        "confidence": resistance["confidence"],
        "source": resistance["source"],
        "efficiency_note": row["efficiency_note"],
        "sheds_fibres": bool(row["sheds_fibres"]),
        "at_flows": flows,
    }
