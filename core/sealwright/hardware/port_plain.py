"""The plain port: a straight tube, for a hose clamp, a glued part or the maker's own connector."""

from __future__ import annotations

from ..solids.primitives import cylinder
from .allowance import Allowance
from .options import PortSettings
from .port_facts import PlainPortFacts
from .port_parts import HAND_MM, THROAT_LIP_MM, PortParts, back_cone, bore_cutter, boss_core


def plain_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a plain tube of the wanted bore, wall and length."""
    bore = 0.5 * settings.bore_mm + allowance.coating_mm
    outer = 0.5 * settings.bore_mm + THROAT_LIP_MM + settings.wall_mm - allowance.coating_mm
    back = back_cone(settings, bore, outer)
    length = back.top + settings.length_mm
    return PortParts(
        boss=boss_core(settings, back, outer, length).named("port boss"),
        bore=bore_cutter(bore, settings.overlap_mm, length, settings.segments),
        seat_radius_mm=bore + THROAT_LIP_MM,
        boss_radius_mm=back.at_zero,
        keep_clear=cylinder(outer + HAND_MM, back.top, length + 25.0, "port hand room"),
        facts=PlainPortFacts(
            port_kind="plain",
            bore_diameter_mm=2.0 * bore,
            tube_outer_diameter_mm=2.0 * outer,
            port_length_mm=length,
        ),
        length_mm=length,
    )
