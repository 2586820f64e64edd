"""The port with an external thread: conical back, thread relief, lead-in and a sealing front face."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import DoesNotFit, Remark, Where
from ..limits import limit
from ..solids.boolean import Solid, difference, union
from ..solids.primitives import cylinder, tube
from .allowance import Allowance
from .options import PortSettings
from .port_facts import CutGland, MalePortFacts
from .port_parts import EDGE_MM, HAND_MM, THROAT_LIP_MM, Back, PortParts, back_cone, bore_cutter, boss_core
from .rings import LAND_MM, FaceGland, face_gland, fitting_rings, judge_gland, lands, o_ring_of, propose_ring
from .screw import Helix, screw
from .soft_ring import SQUEEZE, SoftRing, ring_solid, root_cutter, soft_ring
from .threads import Thread, thread_of

RELIEF_MM = 0.2  # how far relief and lead-in lie below the thread root
START_SHARE = 0.35  # of the pitch, from the back to the thread: the cap ends before it
PILOT_MM = 0.2  # plain rim before the lead-in


@dataclass(frozen=True)
class MaleLayout:
    """Heights and radii of a male port, mm, shared with the holder that screws on it.

    Attributes
    ----------
    thread : nominal thread.
    bore_radius : finished bore, coating allowed for.
    root_radius, crest_radius : finished thread radii.
    back : the conical back; the relief starts where it ends.
    thread_low, length : start of the thread, and the rigid front face.
    land : where the land of a tight cap lies: on the face, or on the squeezed soft ring.
    """

    thread: Thread
    bore_radius: float
    root_radius: float
    crest_radius: float
    back: Back
    thread_low: float
    length: float
    land: float

    @property
    def relief_low(self) -> float:
        """Start of the thread relief."""
        return self.back.top

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
    bore, boss = 0.5 * settings.bore_mm + allowance.coating_mm, male.bottom_mm - RELIEF_MM
    least = limit("thread_root_wall").value
    if boss - bore < least:
        raise DoesNotFit(
            f"A bore of {settings.bore_mm:.1f} mm leaves {boss - bore:.2f} mm of wall under the thread "
            f"{thread.name}; {least:g} mm are needed.",
            Where("port", key="port.bore_mm"),
            f"Reduce the bore to {2.0 * (boss - least):.1f} mm or less, or take a larger thread.",
        )
    back = back_cone(settings, bore, boss)
    thread_low = back.top + START_SHARE * settings.pitch_mm
    length = thread_low + settings.turns * settings.pitch_mm
    land = length if settings.seal == "o_ring" else length + (1.0 - SQUEEZE) * settings.soft_proud_mm
    return MaleLayout(thread, bore, male.bottom_mm, male.top_mm, back, thread_low, length, land)


def male_port(settings: PortSettings, allowance: Allowance) -> PortParts:
    """Build a port with an external thread.

    Raises
    ------
    DoesNotFit : bore, thread and gland contradict each other.
    BadRecipe : an unknown ring.
    """
    plan = male_layout(settings, allowance)
    core = boss_core(settings, plan.back, plan.relief_radius, plan.length)
    boss = union("port boss", core, _threaded(settings, plan, allowance))
    gland = port_gland(settings, allowance, plan)
    soft = _soft(settings, plan) if gland is None else None
    if gland is not None and settings.gland_side == "port":
        inner, outer = 0.5 * gland.inside_mm, 0.5 * gland.outside_mm
        groove = tube(
            inner, outer, plan.length - gland.depth_mm, plan.length + 1.0, "gland", settings.segments
        )
        boss = difference("port boss", boss, groove)
    elif soft is not None and soft.depth:
        boss = difference("port boss", boss, root_cutter(soft, settings.segments))
    return PortParts(
        boss=boss,
        bore=bore_cutter(plan.bore_radius, settings.overlap_mm, plan.length, settings.segments),
        seat_radius_mm=plan.bore_radius + THROAT_LIP_MM,
        boss_radius_mm=plan.back.at_zero,
        keep_clear=cylinder(
            plan.crest_radius + HAND_MM, plan.relief_low, plan.length + 25.0, "port hand room"
        ),
        facts=_facts(settings, plan, gland, soft),
        length_mm=plan.length,
        extra=() if soft is None else (ring_solid(soft, settings.segments),),
        remarks=_remarks(settings, plan, gland),
    )


def _threaded(settings: PortSettings, plan: MaleLayout, allowance: Allowance) -> Solid:
    """The threaded ring; both ends run in at 45 degrees from inside the core, so that no edges coincide."""
    line = plan.thread.male.moved_out(allowance.male_offset_mm).line()
    helix = Helix(line, plan.thread.pitch_mm, plan.thread.starts, plan.crest_phase)
    top, buried = plan.crest_radius + 0.5, plan.relief_radius - 0.5
    rise = top - buried
    low, high = plan.thread_low - 0.5, plan.length - EDGE_MM - PILOT_MM + 0.5
    envelope = [(0.0, low), (buried, low), (top, low + rise), (top, high - rise), (buried, high), (0.0, high)]
    return screw(helix, envelope, "port thread", settings.segments)


def _soft(settings: PortSettings, plan: MaleLayout) -> SoftRing:
    """The soft ring on the flat of the front face."""
    return soft_ring(settings, plan.bore_radius + EDGE_MM, plan.relief_radius - EDGE_MM, plan.length)


def port_gland(settings: PortSettings, allowance: Allowance, plan: MaleLayout) -> FaceGland | None:
    """The gland that seals the front face, cut into the port or into the cap; None without an O-ring.

    Raises
    ------
    DoesNotFit : no ring, or not this one, leaves lands beside the gland.
    BadRecipe : an unknown ring.
    """
    if settings.seal != "o_ring":
        return None
    inner, outer = plan.bore_radius, plan.relief_radius
    if settings.ring is None:
        return propose_ring(inner, outer, allowance.coating_mm)
    gland = face_gland(o_ring_of(settings.ring), allowance.coating_mm)
    if min(lands(gland, inner, outer)) < LAND_MM:
        fits = fitting_rings(inner, outer, allowance.coating_mm)[:3]
        raise DoesNotFit(
            f"Ring {settings.ring} needs a gland from {gland.inside_mm:.1f} to {gland.outside_mm:.1f} mm "
            f"diameter; with lands of {LAND_MM} mm the face has room from {2 * (inner + LAND_MM):.1f} to "
            f"{2 * (outer - LAND_MM):.1f} mm.",
            Where("port", key="port.ring"),
            f"Choose {' or '.join(fits)}, or automatic."
            if fits
            else "Make the thread larger or the bore smaller.",
        )
    return gland


def _facts(
    settings: PortSettings, plan: MaleLayout, gland: FaceGland | None, soft: SoftRing | None
) -> MalePortFacts:
    return MalePortFacts(
        port_kind=settings.kind,
        thread=plan.thread,
        thread_length_mm=plan.length - plan.thread_low,
        thread_turns=(plan.length - plan.thread_low) / plan.thread.pitch_mm,
        port_length_mm=plan.length,
        bore_diameter_mm=2.0 * plan.bore_radius,
        wall_under_thread_mm=plan.relief_radius - plan.bore_radius,
        front_face_width_mm=plan.relief_radius - plan.bore_radius - 2.0 * EDGE_MM,
        facet_error_mm=plan.crest_radius * (1.0 - math.cos(math.pi / settings.segments)),
        seal=settings.seal,
        cap_land_z_mm=plan.land,
        soft=soft,
        soft_material=None if soft is None else settings.soft_material,
        gland=None if gland is None else _cut(gland, settings, plan),
    )


def _cut(gland: FaceGland, settings: PortSettings, plan: MaleLayout) -> CutGland:
    inner, outer = lands(gland, plan.bore_radius, plan.relief_radius)
    return CutGland(
        groove=gland,
        gland_inner_land_mm=inner,
        gland_outer_land_mm=outer,
        gland_side=settings.gland_side,
        gland_bridge_mm=gland.width_mm if settings.gland_side == "port" else 0.0,
    )


def _remarks(settings: PortSettings, plan: MaleLayout, gland: FaceGland | None) -> tuple[Remark, ...]:
    out = list(judge_gland(gland)) if gland is not None else []
    where = Where("port", key="port.kind")
    if plan.thread.overhang_deg > 45.0 + 1e-9:
        out.append(
            Remark(
                "warning",
                f"The flanks of {plan.thread.name} overhang {plan.thread.overhang_deg:.0f} degrees when the "
                "axis is vertical; the printed form overhangs 45.",
                where,
            )
        )
    if gland is not None and settings.gland_side == "port":
        text = f"The gland's roof bridges {gland.width_mm:.1f} mm all round when the port prints face down."
        out.append(Remark("note", text, Where("port", key="port.gland_side")))
    return tuple(out)
