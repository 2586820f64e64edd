"""Ports that carry a valve cartridge: the boss with its plain bore, and the cartridge in place."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from ..errors import Remark, Where
from ..mesh import Floats
from ..solids.boolean import Solid
from ..solids.primitives import cylinder, revolved
from .allowance import Allowance
from .cartridge import (
    EDGE_MM,
    ROOT_MM,
    SQUEEZE,
    CartridgeLayout,
    cartridge_layout,
    cover_solid,
    flap_solid,
    seat_disc,
    socket_cutter,
)
from .options import PortSettings
from .port_facts import ValvePortFacts
from .port_parts import THROAT_LIP_MM, PortParts, back_cone

ROOM_MM = 0.3  # round the cover
FLATNESS_MM = 0.05  # wanted flatness of the seat (common practice, no source)
_SEGMENTS = 128
_FRONT_MM = 3.0  # least height of the boss of a first port over the end of the wall
_REACH_MM = 1.0  # how far the bore's cutter reaches behind the boss


def valve_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build the first port for a cartridge; ``bore_mm`` is not used, the bore follows from the flap.

    Raises
    ------
    DoesNotFit : spokes and hub leave no opening, or no ring is large enough.
    """
    plan = cartridge_layout(settings.valve, allowance)
    back = back_cone(settings, plan.socket, plan.tube)
    length = max(back.top + 0.6, _FRONT_MM)
    profile = [
        (0.0, -settings.overlap_mm),
        (back.low_radius, -settings.overlap_mm),
        (plan.tube, back.top),
        (plan.tube, length - EDGE_MM),
        (plan.tube - EDGE_MM, length),
        (0.0, length),
    ]
    boss = revolved(profile, "port boss", settings.segments)
    parts = _with_cartridge(plan, boss, length, -settings.overlap_mm - 3.0, allowance, settings.segments)
    return replace(parts, boss_radius_mm=back.at_zero)


def side_valve_port(plan: CartridgeLayout, flank_mm: float, allowance: Allowance) -> PortParts:
    """Build a port for a cartridge on the chamber wall: a tube through it, as deep as the ring needs.

    Parameters
    ----------
    flank_mm : height of the boss over the lowest place of the wall under it, which is z = 0.
    """
    low = min(-ROOT_MM, flank_mm - plan.bore_depth)
    boss = cylinder(plan.tube, flank_mm - plan.bore_depth, flank_mm, "port boss", _SEGMENTS)
    parts = _with_cartridge(plan, boss, flank_mm, low - _REACH_MM, allowance, _SEGMENTS)
    return replace(parts, foot=cylinder(plan.tube, low, flank_mm - 0.5, "valve foot", _SEGMENTS))


def _with_cartridge(
    plan: CartridgeLayout, boss: Solid, length: float, inner: float, allowance: Allowance, segments: int
) -> PortParts:
    """Boss and bore with seat disc, flap and cover at home; the face of the boss lies at ``length``."""
    up = _lifted(length)
    extra = [seat_disc(plan, segments).moved(up)]
    if plan.valve.cover:
        extra.append(cover_solid(plan, allowance).moved(up))
    travel = plan.depth + 1.0
    room = cylinder(plan.cover_outer + ROOM_MM, 0.05, plan.height + travel, "valve room", 64)
    return PortParts(
        boss=boss,
        bore=socket_cutter(plan, inner - length, segments).moved(up),
        seat_radius_mm=plan.socket + THROAT_LIP_MM,
        boss_radius_mm=plan.tube,
        keep_clear=room.moved(up),
        facts=_facts(plan, length),
        length_mm=length,
        extra=tuple(extra),
        bought=(flap_solid(plan).moved(up),),
        remarks=_remarks(plan),
        reaches_in=True,
        travel_mm=travel,
    )


def _lifted(height: float) -> Floats:
    frame = np.eye(4)
    frame[2, 3] = height
    return frame


def _facts(plan: CartridgeLayout, length: float) -> ValvePortFacts:
    valve = plan.valve
    return ValvePortFacts(
        port_kind="valve",
        flap_diameter_mm=plan.flap,
        valve_seat_inner_diameter_mm=2.0 * plan.bore,
        valve_seat_outer_diameter_mm=2.0 * plan.seat,
        valve_seat_area_mm2=math.pi * (plan.seat**2 - plan.bore**2),
        valve_seat_flatness_wanted_mm=FLATNESS_MM,
        valve_seat_plane_z_mm=length + plan.plane,
        valve_flap_overlap_mm=valve.overlap_mm,
        valve_open_area_mm2=plan.open_mm2,
        valve_lift_area_mm2=math.pi * plan.flap * valve.lift_mm,
        valve_preload_dome_mm=valve.dome_mm,
        valve_spoke_bridge_mm=2.0 * plan.bore if valve.dome_mm > 0 else 0.0,
        valve_ring=plan.ring.size,
        valve_ring_inside_mm=plan.ring.inside_mm,
        valve_ring_section_mm=plan.ring.section_mm,
        valve_ring_squeeze_percent=100.0 * SQUEEZE,
        valve_socket_diameter_mm=2.0 * plan.socket,
        valve_spigot_diameter_mm=2.0 * plan.spigot,
        valve_spigot_length_mm=plan.depth,
        port_length_mm=length,
    )


def _remarks(plan: CartridgeLayout) -> tuple[Remark, ...]:
    where = Where("port", key="port.valve")
    out = [
        Remark(
            "note",
            f"The exhalation valve is a cartridge: a flap of {plan.flap:g} mm, bought or cut from silicone "
            f"sheet, on a printed seat disc with an O-ring {plan.ring.size} that holds and seals it in the "
            f"bore. The seat must be flat within {FLATNESS_MM} mm: print the disc on a clean bed, remove its "
            "edge flare, rub it on fine paper on glass, check that the flap holds water or light suction.",
            where,
        )
    ]
    if plan.valve.dome_mm > 0:
        bridge = f"With a dome of {plan.valve.dome_mm:.1f} mm the spokes bridge {2 * plan.bore:.1f} mm."
        out.append(Remark("warning", bridge, where))
    return tuple(out)
