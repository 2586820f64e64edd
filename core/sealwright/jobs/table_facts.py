"""The numbers of a report that a table of many wearers shows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Plain = int | float | str | bool


def table_facts(report: Mapping[str, Any]) -> dict[str, Plain]:
    """By column; what a report does not know is left out."""
    sizing, printing = report["sizing"] or {}, report["printing"] or {}
    fit = (report["prediction"] or {}).get("fit_factor") or {}
    face = sizing.get("measures", {}).get("face_length", {})
    found = {
        "face_length_mm": face.get("value_mm"),
        "sizing_cell": sizing.get("cell"),
        "sizing_cell_likely": next(iter(sizing.get("cell_chances", {})), None),
        "seal_line_mm": (report["seal_line"] or {}).get("length_mm"),
        "fit_factor_p5": fit.get("quantiles", {}).get("p5"),
        "fit_factor_p50": fit.get("quantiles", {}).get("p50"),
        "fit_factor_p95": fit.get("quantiles", {}).get("p95"),
        "print_time_min": printing.get("total_time_min"),
        "print_mass_g": printing.get("total_mass_g"),
        "ring": rings_told(report),
    }
    return {name: value for name, value in found.items() if value is not None and value != ""}


def rings_told(report: Mapping[str, Any]) -> str:
    """The seals of all ports, by the size in the table or as printed in place."""
    told = []
    for port in report["hardware"]["ports"]:
        if port.get("ring"):
            told.append(str(port["ring"]))
        elif port.get("soft_ring_inner_diameter_mm"):
            told.append(f"printed {port['soft_ring_inner_diameter_mm']:.1f} mm inside")
    return ", ".join(told)
