"""What came of shaping a contact surface, in a sentence."""

from __future__ import annotations

from ..designing.shaped_surface import ShapedSurface, SurfaceNumbers
from ..limits import limit
from .sentences import filled, sentences


def told_of_surface(surface: ShapedSurface) -> str:
    """Whether the surface is shaped, why not, and what the draws make of both."""
    told = sentences("contact_surface")
    bounds: dict[str, str | int | float] = {
        "springs": limit("layer_over_springs").value,
        "peak": limit("layer_peak_over_even").value,
    }
    words: dict[str, str | int | float] = {
        "draws": surface.draws,
        "why": surface.why,
        "why_held": filled(told[surface.held_back], bounds) if surface.held_back else "",
        **_figures("even", surface.even),
        **_figures("shaped", surface.shaped),
    }
    part = surface.part if surface.held_back else None
    held = "" if part is None else filled(told["held"], {**words, "part": f"{100.0 * part:.0f}"})
    return filled(told[surface.outcome], {**words, "held": held})


def _figures(name: str, found: SurfaceNumbers | None) -> dict[str, str]:
    if found is None:
        return {}
    layer = found.layer_peak_kpa
    return {
        f"{name}_worst": f"{found.worst_cm2_kpa:.1f}",
        f"{name}_p95": f"{found.pressure_p95_kpa:.1f}",
        f"{name}_reach": f"{100.0 * found.share_reaching_100:.0f}",
        f"{name}_hold": f"{100.0 * found.share_holding:.0f}",
        f"{name}_pull": f"{found.pull_n:.1f}",
        f"{name}_layer": "-" if layer is None else f"{layer:.1f}",
    }
