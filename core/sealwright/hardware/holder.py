"""The holder: a cap that screws on the port, an air chamber, a grid, and a seat for the medium.

It is printed grid-down: the grid lies on the bed, a thin roof that rises to the bore bridges over channels
from rib to rib, the land for the ring and the female thread face up. The medium is pressed or glued to the
bed face from outside, so air reaches the grid only through it. Built in the print frame (bed at z = 0, thread
up), returned in the port frame at assembled position.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import Remark
from ..mesh import Floats
from ..settings import check_settings
from ..solids.boolean import Solid, difference, intersection, union
from ..solids.primitives import cylinder, lofted, prism, revolved, tube
from . import grid
from .allowance import Allowance
from .clamp import clamp_of, pressed_edge
from .filter_area import judge_filter
from .glue_groove import groove_cutter, groove_volume_mm3
from .holder_facts import EdgeFacts, HolderFacts, holder_remarks, holder_sizes
from .holder_layout import BEHIND_RIM_MM, HOLDER_ROOM_MM, RELIEF_HEIGHT_MM, HolderLayout, holder_layout
from .knurl import grip_outline
from .options import HolderSettings, PortSettings
from .outlines import Seat
from .port_parts import EDGE_MM
from .retainer import BACK_SLOPE_MM, flange_mm, retainer_solid, screw_rim, snap_facts
from .screw import Helix, screw

_UNDER_ROOF_MM = 1.5  # above that a high rim is a ring: the roof over the channels is enough
THROAT_EDGE_MM = 0.7
GRIP_MM = 2.4  # of the wall behind the rim, for fingers


@dataclass(frozen=True)
class HolderParts:
    """The holder in the port frame at assembled position.

    Attributes
    ----------
    body : the holder.
    retainer : the frame over the medium, or None.
    medium : the medium as a solid slab in place (for checks and pictures; not printed).
    prefilter : the pre-filter in the frame, likewise; None without one.
    medium_outline : (k, 2) x and y in mm of the medium, counter-clockwise.
    medium_area_mm2 : open area of the seat inside the land, one flat layer.
    keep_clear : room the holder takes, with air before it.
    print_up : directions in the port frame that point up when printing: name -> unit vector.
    facts : sizes, strength, mass, medium.
    remarks : what the maker should know.
    """

    body: Solid
    retainer: Solid | None
    medium: Solid
    prefilter: Solid | None
    medium_outline: Floats
    medium_area_mm2: float
    keep_clear: Solid
    print_up: dict[str, tuple[float, float, float]]
    facts: HolderFacts
    remarks: tuple[Remark, ...]

    @property
    def solids(self) -> tuple[Solid, ...]:
        """The printed parts."""
        return (self.body,) if self.retainer is None else (self.body, self.retainer)


def make_holder(settings: HolderSettings, port: PortSettings, allowance: Allowance) -> HolderParts:
    """Build the holder for a port.

    Raises
    ------
    BadRecipe : a value out of range, an unknown medium, or a port without external thread.
    DoesNotFit : medium, thread and land contradict each other.
    """
    check_settings(settings, "holder")
    check_settings(port, "port")
    plan = holder_layout(settings, port, allowance)
    air = _air(settings, plan)
    cutters = _cutters(settings, plan, port, allowance)
    body = difference("holder", _outside(settings, plan, allowance), air, *cutters)
    retainer = retainer_solid(settings, plan.seat, allowance)
    medium = prism(plan.seat.inset(0.0), -settings.medium_thickness_mm, 0.0, "medium")
    reach = plan.seat.inset(-HOLDER_ROOM_MM)
    room = prism(
        reach, -settings.medium_thickness_mm - settings.prefilter_mm - 20.0, plan.back, "holder room"
    )
    room = union("holder room", room, cylinder(plan.skirt_radius + 1.0, 1.0, plan.top, "cap room"))
    area = plan.seat.area_mm2(settings.land_mm)
    judged = judge_filter(settings.medium, area * settings.pleat_factor)
    up = {"holder": (0.0, 0.0, -1.0)} | ({"retainer": (0.0, 0.0, -1.0)} if retainer is not None else {})
    sizes = holder_sizes(settings, plan, body, air, allowance)
    facts = HolderFacts(
        sizes=sizes,
        allowance=allowance,
        medium=judged.facts,
        edge=_edge_facts(settings, plan),
        holder_air_mm3=_air_volume_mm3(settings, plan, air),
        snap=snap_facts(settings, plan.seat, allowance) if settings.retainer == "snap" else None,
    )
    return HolderParts(
        body=body.moved(plan.to_port),
        retainer=None if retainer is None else retainer.moved(plan.to_port),
        medium=medium.moved(plan.to_port),
        prefilter=_prefilter(settings, plan),
        medium_outline=plan.seat.inset(0.0),
        medium_area_mm2=area,
        keep_clear=room.moved(plan.to_port),
        print_up=up,
        facts=facts,
        remarks=holder_remarks(sizes) + judged.remarks,
    )


def holder_outside(settings: HolderSettings, port: PortSettings, allowance: Allowance) -> Solid:
    """The outside of a holder in the port frame, full, to look at while values change; see `make_holder`."""
    plan = holder_layout(settings, port, allowance)
    return _outside(settings, plan, allowance).moved(plan.to_port)


def _prefilter(settings: HolderSettings, plan: HolderLayout) -> Solid | None:
    """The pre-filter before the medium, in the opening of the frame."""
    if settings.retainer == "none" or settings.prefilter_mm <= 0.0:
        return None
    back = -settings.medium_thickness_mm
    outline = plan.seat.inset(settings.land_mm)
    return prism(outline, back - settings.prefilter_mm, back, "pre-filter").moved(plan.to_port)


def _edge_facts(settings: HolderSettings, plan: HolderLayout) -> EdgeFacts:
    """How the medium is held, and what is cut out for it and for the pre-filter."""
    clamp, pressed, framed = clamp_of(settings), pressed_edge(settings), settings.retainer != "none"
    return EdgeFacts(
        edge_seal="pressed" if pressed else "glued",
        prefilter_inset_mm=settings.land_mm if framed else None,
        prefilter_thickness_mm=settings.prefilter_mm if framed else None,
        medium_squeeze_mm=clamp.squeeze if pressed else None,
        medium_ridge_mm=clamp.ridge if pressed else None,
        glue_volume_mm3=None if pressed else groove_volume_mm3(plan.seat, settings),
    )


def _outside(settings: HolderSettings, plan: HolderLayout, allowance: Allowance) -> Solid:
    """Rim, shell round the channels, neck and skirt, full."""
    rim = _rim(settings, plan.seat)
    if settings.retainer == "screw":
        inside = prism(
            plan.seat.inset(settings.land_mm), _UNDER_ROOF_MM, flange_mm(settings) + 1.0, "inside rim"
        )
        rim = difference("holder rim", screw_rim(settings, plan.seat, allowance), inside)
    shell = _shell(settings, plan)
    skirt = revolved(
        [
            (0.0, 2.0),
            (plan.skirt_radius, 2.0),
            (plan.skirt_radius, plan.top - EDGE_MM),
            (plan.skirt_radius - EDGE_MM, plan.top),
            (0.0, plan.top),
        ],
        "holder skirt",
    )
    return union("holder outside", rim, shell, skirt)


def _shell(settings: HolderSettings, plan: HolderLayout) -> Solid:
    """The conical roof over the channels, full, and round it the wall with the grip, which ends above it."""
    if plan.seat.disc:
        room = settings.land_mm - settings.wall_mm - BEHIND_RIM_MM
        inner = plan.seat.least_half_mm(settings.land_mm) + settings.wall_mm
        outline = grip_outline(inner, settings.grip, room)
    else:
        outline = plan.seat.inset(settings.land_mm - settings.wall_mm)
    edge = outline * (1.0 - 0.8 / np.hypot(*outline.T).max())
    low = plan.roof.low_mm + settings.roof_mm
    top = max(low, flange_mm(settings) + GRIP_MM)
    around = lofted([outline, outline, edge], [1.0, top - 0.8, top], "holder wall")
    far, back = plan.seat.reach_mm(), plan.back
    radii, thick = plan.roof.radii_mm, settings.roof_mm
    cones = [(radius, high + thick) for radius, high in zip(radii, plan.roof.heights_mm, strict=True)]
    profile = [(0.0, 1.0), (far, 1.0), (far, low), *cones[:0:-1], (radii[0], back), (0.0, back)]
    middle = plan.seat.inset(settings.land_mm - 0.5 * settings.wall_mm)
    roof = intersection(
        "holder roof", revolved(profile, "holder cone"), prism(middle, 0.5, back + 1.0, "roof")
    )
    inside = prism(plan.seat.inset(settings.land_mm), 0.5, top + 1.0, "inside wall")
    return union("holder shell", roof, difference("holder wall", around, inside))


def _rim(settings: HolderSettings, seat: Seat) -> Solid:
    """The plain rim: its bed edge broken against flare, behind it a slope for the beads of the frame."""
    height = flange_mm(settings)
    heights = [0.0, EDGE_MM, height - BACK_SLOPE_MM, height]
    return lofted([seat.inset(d) for d in (EDGE_MM, 0.0, 0.0, BACK_SLOPE_MM)], heights, "holder rim")


def _cutters(
    settings: HolderSettings, plan: HolderLayout, port: PortSettings, allowance: Allowance
) -> list[Solid]:
    """What is cut beside the air space: cone and bore, glue groove, thread, gland."""
    cutters = [_throat(settings, plan), groove_cutter(plan.seat, settings), _thread(plan, port, allowance)]
    if plan.gland is not None:
        inner, outer = 0.5 * plan.gland.inside_mm, 0.5 * plan.gland.outside_mm
        cutters.append(tube(inner, outer, plan.land - plan.gland.depth_mm, plan.land + 0.5, "gland"))
    return cutters


def _air(settings: HolderSettings, plan: HolderLayout) -> Solid:
    """Grid openings and channels inside the glued land."""
    inside = prism(plan.seat.inset(settings.land_mm), -3.0, plan.land, "holder inside")
    middle = grid.middle_cutter(settings, plan.roof.high_mm + 1.0)
    channels = grid.channel_cutters(plan.rings, settings, plan.roof)
    hollow = [grid.opening_cutter(plan.rings, settings), *channels, middle]
    return intersection("holder air space", union("holder air space", *hollow), inside)


def _air_volume_mm3(settings: HolderSettings, plan: HolderLayout, air: Solid) -> float:
    """Air between the medium and the port's face: grid, channels, cone and the bore through the land."""
    reach = plan.seat.length_mm + plan.seat.width_mm
    span = cylinder(reach, 0.0, plan.land, "holder inside", 24)
    return intersection("holder air", union("holder air", air, _throat(settings, plan)), span).volume


def _throat(settings: HolderSettings, plan: HolderLayout) -> Solid:
    """The bore through roof and land, its lower edge broken so that the air turns in smoothly."""
    low, rise = plan.roof.high_mm, THROAT_EDGE_MM
    profile = [
        (0.0, low - 0.5),
        (plan.bore_radius + rise, low - 0.5),
        (plan.bore_radius + rise, low),
        (plan.bore_radius, low + grid.LEAN_RISE * rise),
        (plan.bore_radius, plan.land + 1.0),
        (0.0, plan.land + 1.0),
    ]
    return revolved(profile, "holder throat")


def _thread(plan: HolderLayout, port: PortSettings, allowance: Allowance) -> Solid:
    """The female thread: relief at the land, ridges in phase with the port's, lead-in at the rim."""
    profile = plan.port.thread.female.moved_out(allowance.female_offset_mm)
    phase = plan.z_out - plan.port.crest_phase
    helix = Helix(profile.line(), plan.port.thread.pitch_mm, plan.port.thread.starts, phase)
    top, bottom = profile.top_mm, profile.bottom_mm
    envelope = [(0.0, plan.land), (top + 1.0, plan.land), (top + 1.0, plan.top + 1.0), (0.0, plan.top + 1.0)]
    thread = screw(helix, envelope, "holder thread", port.segments, female=True)
    depth = top - bottom
    relief = [
        (0.0, plan.land),
        (top, plan.land),
        (top, plan.land + RELIEF_HEIGHT_MM),
        (bottom - 0.5, plan.land + RELIEF_HEIGHT_MM + 0.5 + depth),
        (0.0, plan.land + RELIEF_HEIGHT_MM + 0.5 + depth),
    ]
    lead_in = [
        (0.0, plan.top - depth - 0.5),
        (bottom - 0.5, plan.top - depth - 0.5),
        (top + 0.5, plan.top + 0.5),
        (0.0, plan.top + 0.5),
    ]
    return union(
        "holder thread", thread, revolved(relief, "thread relief"), revolved(lead_in, "thread lead-in")
    )
