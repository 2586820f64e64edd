"""The port with the internal Rd 40 x 1/7" thread and a flat gasket seat at its bottom.

Thread geometry from memory of DIN 405. Seat depth, gasket diameters and tolerances of EN 148-1 are not known
here: the seat is as wide as the thread allows and the depth follows from the wanted turns. Gauge it with a
real filter.
"""

from __future__ import annotations

from ..errors import Remark, Where
from ..solids.boolean import union
from ..solids.primitives import cylinder, revolved
from ..tables import table
from .allowance import Allowance
from .options import PortSettings
from .port_facts import FemalePortFacts
from .port_parts import HAND_MM, THROAT_LIP_MM, PortParts, back_cone, bore_cutter, boss_core
from .screw import Helix, screw
from .threads import thread_of

SEAT_MM = 4.0  # least radial width of the gasket seat (common practice, no source)


def rd40_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build the internal Rd 40 port; diameter and pitch are the thread's own, the bore leaves a seat."""
    thread = thread_of("rd40", 40.0, 0.0)
    female = thread.female.moved_out(allowance.female_offset_mm)
    gasket = float(table("connectors")["rd40"]["gasket_thickness_mm"]["value"])
    bore = min(0.5 * settings.bore_mm, 0.5 * thread.female_crest_mm - SEAT_MM) + allowance.coating_mm
    outer = female.top_mm + settings.wall_mm
    back = back_cone(settings, bore, outer)
    seat = back.top
    length = seat + gasket + settings.turns * thread.pitch_mm
    top, bottom = female.top_mm, female.bottom_mm
    depth = top - bottom
    helix = Helix(female.line(), thread.pitch_mm, 1, 0.5 * (seat + gasket + length))
    envelope = [(0.0, seat), (top + 1.0, seat), (top + 1.0, length + 1.0), (0.0, length + 1.0)]
    cutter = screw(helix, envelope, "port thread", settings.segments, female=True)
    relief = [
        (0.0, seat),
        (top, seat),
        (top, seat + gasket),
        (bottom - 0.5, seat + gasket + depth + 0.5),
        (0.0, seat + gasket + depth + 0.5),
    ]
    low = length - depth - 0.5
    lead_in = [(0.0, low), (bottom - 0.5, low), (top + 1.0, length + 1.0), (0.0, length + 1.0)]
    hollow = union(
        "port bore",
        bore_cutter(bore, settings.overlap_mm, length, settings.segments),
        cutter,
        revolved(relief, "thread relief", settings.segments),
        revolved(lead_in, "thread lead-in", settings.segments),
    )
    facts = FemalePortFacts(
        port_kind="rd40",
        thread=thread,
        bore_diameter_mm=2.0 * bore,
        port_length_mm=length,
        thread_turns=settings.turns,
        gasket_thickness_mm=gasket,
        gasket_seat_inner_diameter_mm=2.0 * bore,
        gasket_seat_outer_diameter_mm=2.0 * top,
        unsupported_seat_width_mm=top - bore,
    )
    where = Where("port", key="port.kind")
    hanging = (
        f"The gasket seat faces down when the port is printed downward and hangs over {top - bore:.1f} mm; "
        "print the port upward or smooth the seat by hand."
    )
    gauged = f"{thread.name}: {thread.source}. Gauge it; no EN 148-1 conformity is claimed."
    remarks = (Remark("warning", gauged, where), Remark("warning", hanging, where))
    return PortParts(
        boss=boss_core(settings, back, outer, length).named("port boss"),
        bore=hollow,
        seat_radius_mm=bore + THROAT_LIP_MM,
        boss_radius_mm=back.at_zero,
        keep_clear=cylinder(40.0 + HAND_MM, length, length + 60.0, "filter room"),
        facts=facts,
        length_mm=length,
        remarks=remarks,
    )
