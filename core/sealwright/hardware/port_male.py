"""The port with an external thread: conical back, thread relief, lead-in and a sealing front face."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from ..errors import DoesNotFit, Remark, Where
from ..solids.boolean import Solid, difference, union
from ..solids.primitives import cylinder, revolved, tube
from .allowance import Allowance
from .options import PortSettings
from .ports import BORE_REACH_MM, THROAT_LIP_MM, PortParts
from .rings import LAND_MM, FaceGland, face_gland, judge, lands, propose_ring, ring_of
from .screw import Helix, screw
from .threads import Thread, thread_of

EDGE_MM = 0.4  # chamfers of the front face: takes up the first-layer flare (0.1 to 0.3 mm a side)
RELIEF_MM = 0.2  # how far relief and lead-in lie below the thread root
PILOT_MM = 0.2  # plain rim before the lead-in
HAND_MM = 16.0  # fingers round the cap


@dataclass(frozen=True)
class MaleLayout:
    """Heights and radii of a male port, mm, shared with the holder that screws on it.

    Attributes
    ----------
    thread : nominal thread.
    bore_radius : finished bore, coating allowed for.
    root_radius, crest_radius : finished thread radii.
    relief_low, thread_low, length : start of the relief, of the thread, and the front face.
    """

    thread: Thread
    bore_radius: float
    root_radius: float
    crest_radius: float
    relief_low: float
    thread_low: float
    length: float

    @property
    def relief_radius(self) -> float:
        """Radius of thread relief and of the front face's edge."""
        return self.root_radius - RELIEF_MM

    @property
    def crest_phase(self) -> float:
        """Height of a mid-ridge at angle 0: in the middle of the thread."""
        return 0.5 * (self.thread_low + self.length)


def male_layout(settings: PortSettings, allowance: Allowance) -> MaleLayout:
    """Lay out a male threaded port.

    Raises
    ------
    DoesNotFit : the bore leaves less than 2 mm of wall under the thread.
    """
    thread = thread_of(settings.kind, settings.diameter_mm, settings.pitch_mm, settings.starts)
    male = thread.male.moved_out(allowance.male_offset_mm)
    bore = 0.5 * settings.bore_mm + allowance.coating_mm
    if male.bottom_mm - RELIEF_MM - bore < 2.0:
        raise DoesNotFit(
            f"A bore of {settings.bore_mm:.1f} mm leaves {male.bottom_mm - RELIEF_MM - bore:.2f} mm of "
            f"wall under "
            f"the thread {thread.name}; 2 mm are needed.",
            Where("port", key="port.bore_mm"),
            f"Reduce the bore to {2.0 * (male.bottom_mm - RELIEF_MM - 2.0):.1f} mm or less, or take a "
            f"larger thread.",
        )
    back = male.bottom_mm - RELIEF_MM - (bore + THROAT_LIP_MM + 0.5 * settings.wall_mm)
    relief_low = max(back - settings.overlap_mm, 0.4)
    thread_low = relief_low + 0.75 * settings.pitch_mm
    length = thread_low + settings.turns * settings.pitch_mm
    return MaleLayout(thread, bore, male.bottom_mm, male.top_mm, relief_low, thread_low, length)


def male_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a port with an external thread.

    Raises
    ------
    DoesNotFit : bore, thread and gland contradict each other.
    BadRecipe : an unknown ring.
    """
    plan = male_layout(settings, allowance)
    gland = _gland(settings, allowance, plan) if settings.seal == "o_ring" else None
    boss = union("port boss", _core(settings, plan), _threaded(settings, plan, allowance))
    if gland is not None:
        inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
        groove = tube(
            inner, outer, plan.length - gland.depth_mm, plan.length + 1.0, "gland", settings.segments
        )
        boss = difference("port boss", boss, groove)
    throat = plan.bore_radius + THROAT_LIP_MM
    at_zero = min(throat + 0.5 * settings.wall_mm + settings.overlap_mm, plan.relief_radius)
    return PortParts(
        boss=boss,
        bore=bore_cutter(plan.bore_radius, settings.overlap_mm, plan.length, settings.segments),
        seat_radius_mm=throat,
        boss_radius_mm=at_zero,
        keep_clear=cylinder(
            plan.crest_radius + HAND_MM, plan.relief_low, plan.length + 25.0, "port hand room"
        ),
        facts=_facts(settings, plan, gland),
        length_mm=plan.length,
        remarks=_remarks(plan, gland),
    )


def bore_cutter(radius_mm: float, overlap_mm: float, length_mm: float, segments: int) -> Solid:
    """The bore with a 45 degree edge at the front face, reaching past both ends."""
    top = length_mm + BORE_REACH_MM
    profile = [
        (0.0, -overlap_mm - BORE_REACH_MM),
        (radius_mm, -overlap_mm - BORE_REACH_MM),
        (radius_mm, length_mm - EDGE_MM),
        (radius_mm + EDGE_MM + BORE_REACH_MM, top),
        (0.0, top),
    ]
    return revolved(profile, "port bore", segments)


def _core(settings: PortSettings, plan: MaleLayout) -> Solid:
    """Solid core: conical back at 45 degrees, relief, and up to the front face."""
    low = plan.relief_radius - (plan.relief_low + settings.overlap_mm)
    profile = [
        (0.0, -settings.overlap_mm),
        (low, -settings.overlap_mm),
        (plan.relief_radius, plan.relief_low),
        (plan.relief_radius, plan.length - EDGE_MM),
        (plan.relief_radius - EDGE_MM, plan.length),
        (0.0, plan.length),
    ]
    return revolved(profile, "port core", settings.segments)


def _threaded(settings: PortSettings, plan: MaleLayout, allowance: Allowance) -> Solid:
    """The threaded ring; both ends run in at 45 degrees from inside the core, so that no edges coincide."""
    line = plan.thread.male.moved_out(allowance.male_offset_mm).line()
    helix = Helix(line, plan.thread.pitch_mm, plan.thread.starts, plan.crest_phase)
    top, buried = plan.crest_radius + 0.5, plan.relief_radius - 0.5
    rise = top - buried
    low, high = plan.thread_low - 0.5, plan.length - EDGE_MM - PILOT_MM + 0.5
    envelope = [(0.0, low), (buried, low), (top, low + rise), (top, high - rise), (buried, high), (0.0, high)]
    return screw(helix, envelope, "port thread", settings.segments)


def _gland(settings: PortSettings, allowance: Allowance, plan: MaleLayout) -> FaceGland:
    inner, outer = plan.bore_radius, plan.relief_radius
    if settings.ring == "auto":
        return propose_ring(inner, outer, allowance.coating_mm)
    gland = face_gland(ring_of(settings.ring), allowance.coating_mm)
    if min(lands(gland, inner, outer)) < LAND_MM:
        raise DoesNotFit(
            f"Ring {settings.ring} needs a gland from {gland.inside_mm:.1f} to {gland.outside_mm:.1f} mm "
            f"diameter; "
            f"with lands of {LAND_MM} mm the face has room from {2 * (inner + LAND_MM):.1f} to "
            f"{2 * (outer - LAND_MM):.1f} mm.",
            Where("port", key="port.ring"),
            "Choose another ring, or auto.",
        )
    return gland


def _facts(settings: PortSettings, plan: MaleLayout, gland: FaceGland | None) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "port_kind": settings.kind,
        **plan.thread.facts(),
        "thread_length_mm": plan.length - plan.thread_low,
        "thread_turns": (plan.length - plan.thread_low) / plan.thread.pitch_mm,
        "port_length_mm": plan.length,
        "bore_diameter_mm": 2.0 * plan.bore_radius,
        "wall_under_thread_mm": plan.relief_radius - plan.bore_radius,
        "front_face_width_mm": plan.relief_radius - plan.bore_radius - 2.0 * EDGE_MM,
        "facet_error_mm": plan.crest_radius * (1.0 - math.cos(math.pi / settings.segments)),
        "seal": settings.seal,
    }
    if gland is not None:
        inner, outer = lands(gland, plan.bore_radius, plan.relief_radius)
        facts |= gland.facts()
        facts |= {
            "gland_inner_land_mm": inner,
            "gland_outer_land_mm": outer,
            "gland_bridge_mm": gland.width_mm,
        }
    return facts


def _remarks(plan: MaleLayout, gland: FaceGland | None) -> tuple[Remark, ...]:
    out = list(judge(gland)) if gland is not None else []
    where = Where("port", key="port.kind")
    if plan.thread.overhang_deg > 45.0 + 1e-9:
        out.append(
            Remark(
                "warning",
                f"The flanks of {plan.thread.name} overhang {plan.thread.overhang_deg:.0f} degrees when "
                f"the axis is "
                "vertical; the printed form overhangs 45.",
                where,
            )
        )
    if plan.thread.form == "round":
        out.append(Remark("warning", f"{plan.thread.name}: {plan.thread.source}. Gauge it.", where))
    return tuple(out)
