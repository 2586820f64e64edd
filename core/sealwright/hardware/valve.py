"""Exhalation valve seat for a flat flap, with spokes that carry its stem and a cover against knocks.

The flap lies outside: air going out lifts it, suction pulls it on its seat. Seat ring and spokes lie in one
plane, so that in a port-down print they are first layers, as flat as the bed; the boss grows from them at 45
degrees.
"""

from __future__ import annotations

import math

import numpy as np

from ..errors import DoesNotFit, Remark, Where
from ..solids.boolean import Solid, difference, union
from ..solids.primitives import cuboid, cylinder, prism_faces, revolved, scattered, tube
from .allowance import Allowance
from .options import PortSettings, ValveSettings
from .port_facts import ValvePortFacts
from .port_parts import BORE_REACH_MM, HAND_MM, THROAT_LIP_MM, PortParts, back_cone

SPIDER_MM = 3.0  # height of spokes and hub
HUB_WALL_MM = 2.0
RIM_MM = 1.5  # room round the flap
NECK_MM = 6.0  # straight length the cover slides on
SNAP_MM = 0.3  # bead of the cover: 1.8 % hoop strain at 17 mm radius
COVER_WALL_MM = 1.6
WINDOW_MM = 6.0  # width of the cover's windows, whose tops are pitched at 45 degrees
FLATNESS_MM = 0.05  # wanted flatness of the seat (common practice, no source)


def valve_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a valve seat; ``bore_mm`` is not used, the bore follows from the flap.

    Raises
    ------
    DoesNotFit : spokes and hub leave no opening.
    """
    valve = settings.valve
    seat_out = 0.5 * valve.flap_mm - valve.overlap_mm
    bore = seat_out - valve.seat_width_mm
    boss = 0.5 * valve.flap_mm + RIM_MM
    back = back_cone(settings, bore, boss)
    length = back.top + NECK_MM + (boss - seat_out)
    open_area = _open_area(valve, bore, allowance)
    spider = _spider(valve, bore, length, allowance)
    hole = cylinder(
        bore, -settings.overlap_mm - BORE_REACH_MM, length + BORE_REACH_MM, "port bore", settings.segments
    )
    body = _boss(settings, length, boss, seat_out, allowance)
    facts = _facts(valve, bore, seat_out, length, open_area)
    cover = (_cover(valve, boss, length, seat_out, allowance),) if valve.cover else ()
    return PortParts(
        boss=body,
        bore=difference("port bore", hole, spider),
        seat_radius_mm=bore + THROAT_LIP_MM,
        boss_radius_mm=back.at_zero,
        keep_clear=cylinder(boss + HAND_MM, back.top, length + valve.lift_mm + 20.0, "valve room"),
        facts=facts,
        length_mm=length,
        extra=cover,
        remarks=_remarks(valve, bore),
    )


def _open_area(valve: ValveSettings, bore: float, allowance: Allowance) -> float:
    """Free area between spokes and hub, mm2."""
    hub = 0.5 * valve.button_mm + HUB_WALL_MM + allowance.coating_mm
    area = math.pi * (bore**2 - hub**2) - valve.spokes * valve.spoke_mm * (bore - hub)
    if hub > 0.6 * bore or area < 0.3 * math.pi * bore**2:
        raise DoesNotFit(
            f"Hub and spokes leave {area:.0f} mm2 open in a valve bore of {2 * bore:.1f} mm diameter.",
            Where("port", key="port.valve.spokes"),
            "Use fewer or thinner spokes, a smaller button or a larger flap.",
        )
    return area


def _boss(settings: PortSettings, length: float, boss: float, seat_out: float, allowance: Allowance) -> Solid:
    """Back, neck with the groove for the cover, and the cone that ends in the seat ring; filled."""
    back = back_cone(settings, seat_out - settings.valve.seat_width_mm, boss)
    groove = back.top + 0.5 * NECK_MM
    depth = SNAP_MM + allowance.gap_mm + 2.0 * allowance.coating_mm
    profile = [
        (0.0, -settings.overlap_mm),
        (back.low_radius, -settings.overlap_mm),
        (boss, back.top),
        (boss, groove - 0.5 - depth),
        (boss - depth, groove - 0.5),
        (boss - depth, groove + 0.5),
        (boss, groove + 0.5 + depth),
        (boss, length - (boss - seat_out)),
        (seat_out, length),
        (0.0, length),
    ]
    return revolved(profile, "port boss", settings.segments)


def _spider(valve: ValveSettings, bore: float, length: float, allowance: Allowance) -> Solid:
    """Spokes and hub with the hole for the flap's stem."""
    top = length - valve.dome_mm
    low = top - SPIDER_MM
    hole = 0.5 * valve.button_mm + allowance.coating_mm
    half, reach = 0.5 * valve.spoke_mm, bore + 1.0
    bars = []
    for i in range(valve.spokes):
        turn = 2.0 * math.pi * i / valve.spokes
        frame = np.eye(4)
        frame[:2, :2] = [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        bars.append(cuboid((hole + 0.5, -half, low), (reach, half, top), "spoke").moved(frame))
    return union("valve spokes", tube(hole, hole + HUB_WALL_MM, low, top, "hub", 64), *bars)


def _cover(valve: ValveSettings, boss: float, length: float, seat_out: float, allowance: Allowance) -> Solid:
    """A cap over the flap: windows round its wall, a bead that snaps into the groove of the neck."""
    inner = boss + allowance.female_offset_mm
    outer = inner + COVER_WALL_MM
    inside = length + valve.lift_mm
    low = length - (boss - seat_out) - NECK_MM + 0.4
    bead = low - 0.4 + 0.5 * NECK_MM
    tip = SNAP_MM + allowance.female_offset_mm
    profile = [
        (0.0, inside),
        (inner, inside),
        (inner, bead + 0.4 + tip),
        (inner - tip, bead + 0.4),
        (inner - tip, bead - 0.4),
        (inner, bead - 0.4 - tip),
        (inner, low + 0.4),
        (inner + 0.4, low),
        (outer, low),
        (outer, inside + COVER_WALL_MM - 0.4),
        (outer - 0.4, inside + COVER_WALL_MM),
        (0.0, inside + COVER_WALL_MM),
    ]
    cap = revolved(profile, "valve cover")
    return difference("valve cover", cap, _windows(inner, outer, inside, length))


def _windows(inner: float, outer: float, top: float, seat: float) -> Solid:
    """Radial openings from the cover's plate down past the flap, pitched at their far end."""
    count = max(4, int(2.0 * math.pi * inner / (WINDOW_MM + 2.5)))
    half, sill = 0.5 * WINDOW_MM, seat - 0.5
    shape = np.array(
        [
            [(r, half, top), (r, -half, top), (r, -half, sill), (r, 0.0, sill - half), (r, half, sill)]
            for r in (inner - 3.0, outer + 3.0)
        ]
    ).reshape(10, 3)
    turn = np.arange(count) * (2.0 * math.pi / count)
    c, s, zero = np.cos(turn), np.sin(turn), np.zeros(count)
    rotation = np.moveaxis(np.array([[c, s, zero], [-s, c, zero], [zero, zero, zero + 1.0]]), 2, 0)
    return scattered(np.einsum("ki,sij->skj", shape, rotation), prism_faces(5), "cover windows")


def _facts(
    valve: ValveSettings, bore: float, seat_out: float, length: float, open_area: float
) -> ValvePortFacts:
    seat_area = math.pi * (seat_out**2 - bore**2)
    lift = math.pi * valve.flap_mm * valve.lift_mm
    return ValvePortFacts(
        port_kind="valve",
        flap_diameter_mm=valve.flap_mm,
        valve_seat_inner_diameter_mm=2.0 * bore,
        valve_seat_outer_diameter_mm=2.0 * seat_out,
        valve_seat_area_mm2=seat_area,
        valve_seat_flatness_wanted_mm=FLATNESS_MM,
        valve_seat_plane_z_mm=length,
        valve_flap_overlap_mm=valve.overlap_mm,
        valve_open_area_mm2=open_area,
        valve_lift_area_mm2=lift,
        valve_preload_dome_mm=valve.dome_mm,
        valve_spoke_bridge_mm=2.0 * bore if valve.dome_mm > 0 else 0.0,
        port_length_mm=length,
    )


def _remarks(valve: ValveSettings, bore: float) -> tuple[Remark, ...]:
    where = Where("port", key="port.valve")
    out = [
        Remark(
            "note",
            f"The valve seat must be flat within {FLATNESS_MM} mm: print it on a clean bed, remove its edge "
            "flare, rub it on fine paper on glass, and check that the flap holds water or light suction.",
            where,
        )
    ]
    if valve.dome_mm > 0:
        out.append(
            Remark(
                "warning",
                f"With a dome of {valve.dome_mm:.1f} mm the spokes bridge {2 * bore:.1f} mm in a port-down "
                f"print.",
                where,
            )
        )
    else:
        out.append(
            Remark(
                "note",
                "Seat and hub are level: the flap has no preload but its own; a flap with a stem that "
                "pulls it down closes better.",
                where,
            )
        )
    return tuple(out)
