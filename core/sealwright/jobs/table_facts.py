"""The numbers of a report that a table of many wearers shows."""

from __future__ import annotations

from ..report.shape import FitReport
from .refit_record import Plain


def table_facts(report: FitReport) -> dict[str, Plain]:
    """By column; what a report does not know is left out."""
    sizing, printing, seal_line = report["sizing"], report["printing"], report["seal_line"]
    fit = report["prediction"]["fit_factor"] if report["prediction"] else None
    face = sizing["measures"].get("face_length") if sizing else None
    found = {
        "face_length_mm": face["value_mm"] if face else None,
        "sizing_cell": sizing["cell"] if sizing else None,
        "sizing_cell_likely": next(iter(sizing["cell_chances"]), None) if sizing else None,
        "seal_line_mm": seal_line["length_mm"] if seal_line else None,
        "fit_factor_p5": fit["quantiles"]["p5"] if fit else None,
        "fit_factor_p50": fit["quantiles"]["p50"] if fit else None,
        "fit_factor_p95": fit["quantiles"]["p95"] if fit else None,
        "print_time_min": printing["total_time_min"] if printing else None,
        "print_mass_g": printing["total_mass_g"] if printing else None,
        "ring": seals_in_words(report),
    }
    return {name: value for name, value in found.items() if value is not None and value != ""}


def seals_in_words(report: FitReport) -> str:
    """The seals of all ports, by the size in the table or as printed in place."""
    words = []
    for port in report["hardware"]["ports"]:
        if port.get("ring"):
            words.append(str(port["ring"]))
        elif port.get("soft_ring_inner_diameter_mm"):
            words.append(f"printed {port['soft_ring_inner_diameter_mm']:.1f} mm inside")
    return ", ".join(words)
