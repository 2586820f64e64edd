"""Ports with the 22 mm and 15 mm cones of ISO 5356-1, outside (male) or as a socket (female)."""

from __future__ import annotations

from ..errors import DoesNotFit, Remark, Where
from ..limits import limit
from ..solids.primitives import SEGMENTS, around_circle, cylinder, revolved
from .allowance import Allowance
from .connectors import ConeSize, cone_size
from .options import PortSettings
from .port_facts import ConePortFacts, ConeSocket, ConeTip
from .port_parts import (
    BORE_REACH_MM,
    EDGE_MM,
    HAND_MM,
    THROAT_LIP_MM,
    PortParts,
    back_cone,
    bore_cutter,
    boss_core,
)

_LEAST_TIP_WALL_MM = 1.2


def cone_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a conical port; the bore follows from cone and wall, ``bore_mm`` is not used.

    Coating is allowed for; there is no running clearance, because a cone seats itself.

    Raises
    ------
    DoesNotFit : the wall leaves too little bore in a male cone.
    """
    size = cone_size(settings.cone_size)
    if settings.cone_gender == "male":
        return _male(settings, allowance, size)
    return _female(settings, allowance, size)


def _male(settings: PortSettings, allowance: Allowance, size: ConeSize) -> PortParts:
    tip = 0.5 * size.cone_diameter_mm(0.0) + allowance.male_offset_mm
    base = 0.5 * size.cone_diameter_mm(size.cone_length_mm) + allowance.male_offset_mm
    bore = tip - max(settings.wall_mm, _LEAST_TIP_WALL_MM)
    least = limit("cone_bore").value
    if bore < least:
        raise DoesNotFit(
            f"A wall of {settings.wall_mm:.1f} mm leaves a bore of {2 * bore:.1f} mm in the {size.name} mm "
            f"cone.",
            Where("port", key="port.wall_mm"),
            f"Use a wall of {tip - least:.1f} mm or less.",
        )
    shoulder = 0.5 * size.shoulder_mm
    back = back_cone(settings, bore, shoulder)
    start = back.top + 0.5 + (shoulder - base)
    length = start + size.cone_length_mm
    profile = [
        (0.0, -settings.overlap_mm),
        (back.low_radius, -settings.overlap_mm),
        (shoulder, back.top),
        (shoulder, back.top + 0.5),
        (base, start),  # the shoulder falls back at 45 degrees, so that it prints downward
        (tip + EDGE_MM * 0.5 * size.taper, length - EDGE_MM),
        (tip - EDGE_MM, length),
        (0.0, length),
    ]
    fit = ConeTip(
        cone_gauge_plane_z_mm=length - size.gauge_from_tip_mm,
        cone_tip_diameter_mm=2.0 * tip,
        cone_base_diameter_mm=2.0 * base,
        cone_tip_wall_mm=tip - bore,
    )
    return PortParts(
        boss=revolved(profile, "port boss", settings.segments),
        bore=bore_cutter(bore, settings.overlap_mm, length, settings.segments),
        seat_radius_mm=bore + THROAT_LIP_MM,
        boss_radius_mm=back.at_zero,
        keep_clear=cylinder(shoulder + HAND_MM, back.top, length + 30.0, "port hand room", SEGMENTS),
        facts=_facts(size, fit, bore, length),
        length_mm=length,
        remarks=_remarks(size),
    )


def _female(settings: PortSettings, allowance: Allowance, size: ConeSize) -> PortParts:
    """A socket: corners of the cutter are moved out so that its flat sides lie on the true cone."""
    grow = around_circle(1.0, settings.segments)
    mouth = (0.5 * size.socket_diameter_mm(0.0) + allowance.coating_mm) * grow
    bottom = (0.5 * size.socket_diameter_mm(size.socket_depth_mm) + allowance.coating_mm) * grow
    bore = bottom - 1.0
    outer = mouth + settings.wall_mm
    back = back_cone(settings, bore, outer)
    length = back.top + 1.0 + size.socket_depth_mm
    deep = length - size.socket_depth_mm
    slope = 0.5 * size.taper * grow
    profile = [
        (0.0, -settings.overlap_mm - BORE_REACH_MM),
        (bore, -settings.overlap_mm - BORE_REACH_MM),
        (bore, deep - 1.0),
        (bottom, deep),
        (mouth + slope * BORE_REACH_MM, length + BORE_REACH_MM),
        (0.0, length + BORE_REACH_MM),
    ]
    fit = ConeSocket(
        socket_mouth_diameter_mm=2.0 * mouth / grow,
        socket_bottom_diameter_mm=2.0 * bottom / grow,
        socket_depth_mm=size.socket_depth_mm,
    )
    return PortParts(
        boss=boss_core(settings, back, outer, length).named("port boss"),
        bore=revolved(profile, "port bore", settings.segments),
        seat_radius_mm=bore + THROAT_LIP_MM,
        boss_radius_mm=back.at_zero,
        keep_clear=cylinder(outer + HAND_MM, back.top, length + 30.0, "port hand room"),
        facts=_facts(size, fit, bore, length),
        length_mm=length,
        remarks=_remarks(size),
    )


def _facts(
    size: ConeSize, fit: ConeTip | ConeSocket, bore_radius_mm: float, length_mm: float
) -> ConePortFacts:
    return ConePortFacts(
        port_kind="cone",
        cone_size=size.name,
        cone_gender="male" if isinstance(fit, ConeTip) else "female",
        cone_gauge_diameter_mm=size.gauge_mm,
        cone_gauge_confidence=size.confidence,
        cone_half_angle_deg=size.half_angle_deg,
        bore_diameter_mm=2.0 * bore_radius_mm,
        port_length_mm=length_mm,
        fit=fit,
    )


def _remarks(size: ConeSize) -> tuple[Remark, ...]:
    if size.confidence != "M":
        return ()
    text = f"The {size.name} mm cone's numbers are from memory; gauge it with a real part before use."
    return (Remark("warning", text, Where("port", key="port.cone_size")),)
