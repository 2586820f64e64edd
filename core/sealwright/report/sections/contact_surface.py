"""Section of the report about a contact surface shaped for even pressure."""

from __future__ import annotations

from dataclasses import asdict

import numpy as np

from ...designing.design import Design
from ...designing.shaped_surface import SurfaceNumbers
from ...face.stand_off import sampled
from ...facepiece.sectors import SECTORS, sectors_of
from ...mesh import Floats
from ...verdicts.surface_words import told_of_surface


def surface_section(design: Design) -> dict[str, object] | None:
    """What came of shaping the contact surface; None where the recipe does not ask for it."""
    surface, fit = design.surface, design.fit
    if surface is None:
        return None
    return {
        "outcome": surface.outcome,
        "shaped": surface.kept,
        "told": told_of_surface(surface),
        "part": surface.part,
        "held_back": surface.held_back or None,
        "draws": surface.draws,
        "even": _numbers(surface.even),
        "best": _numbers(surface.shaped),
        "followed_p95_mm": None if fit is None else float(np.percentile(np.abs(fit.gap), 95)),
        "steepest_mm_per_cm": steepest(design),
        "sectors": sectors(design),
    }


def _numbers(found: SurfaceNumbers | None) -> dict[str, object] | None:
    return None if found is None else asdict(found)


def offsets_on_band(design: Design) -> tuple[Floats, Floats] | None:
    """Places (n, k, 3) of the band on the skin and the offsets (n, k) there, mm; None for an even surface."""
    surface, fit = design.surface, design.fit
    if surface is None or surface.shaped_mm is None or fit is None:
        return None
    chart = design.prepared.face.chart
    return fit.places, sampled(surface.shaped_mm, chart, chart.place_of(fit.places)[0])


def steepest(design: Design) -> float | None:
    """How fast the offsets change along the band at most, mm in 10 mm; None for an even surface."""
    found = offsets_on_band(design)
    if found is None:
        return None
    places, offsets = found
    way = np.linalg.norm(np.roll(places, -1, axis=0) - places, axis=2)
    change = np.abs(np.roll(offsets, -1, axis=0) - offsets)
    return float(10.0 * np.max(change / np.maximum(way, 0.5)))


def sectors(design: Design) -> list[dict[str, object]]:
    """Offsets of every sector of the seal line; none for an even surface."""
    found, line = offsets_on_band(design), design.seal_line
    if found is None or line is None:
        return []
    sector = sectors_of(line.points, design.prepared.landmarks)
    return [
        {
            "sector": name,
            "mean_mm": float(values.mean()),
            "least_mm": float(values.min()),
            "most_mm": float(values.max()),
        }
        for number, name in enumerate(SECTORS)
        if len(values := found[1][sector == number])
    ]
