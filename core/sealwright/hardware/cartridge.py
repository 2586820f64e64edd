"""The exhalation valve as a cartridge: seat disc, flap and cover, pushed into a plain bore of the body.

The seat disc is a part of its own, printed with its seat on the bed: seat ring, spokes and hub are first
layers, as flat as the bed, whatever the body's pose. It is sealed and held by an O-ring on its spigot, which
lies in a shallow groove of the body's bore when the flange is home. The flap lies outside: air going out
lifts it, suction pulls it on its seat. The cover snaps on the disc, so the whole valve is changed in one.

Cartridge frame: +Z out of the mask along the axis, origin in the face of the boss, where the flange rests.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where
from ..limits import limit
from ..solids.boolean import Solid, difference, union
from ..solids.primitives import cuboid, prism_faces, revolved, scattered, tube
from .allowance import Allowance
from .options import ValveSettings
from .rings import ORing, o_ring_sizes

SPIDER_MM = 2.4  # height of spokes and hub
HUB_WALL_MM = 1.6  # four lines
RIM_MM = 1.5  # room round the flap
CONE_RISE = 0.7  # of the cone from seat to neck, per radius: it overhangs by 55 degrees in the print
NECK_MM = 3.0  # straight length the cover slides on
SNAP_MM = 0.25  # bead of the cover: 2.1 % hoop strain at 12 mm radius, in a wall that its windows weaken
COVER_WALL_MM = 1.2  # three lines
WINDOW_MM = 6.0  # width of the cover's windows, whose tops are pitched at 45 degrees
EDGE_MM = 0.4
SQUEEZE = 0.22  # of the ring, mid of the usual 20 to 30 % (rings table)
STRETCH = 0.02
SPIGOT_WALL_MM = 1.2  # under the ring: three lines
LAND_MM = 0.6  # of the spigot between flange and the ring's groove
TIP_MM = 0.3  # of the spigot behind that groove
BEHIND_MM = 0.6  # of the bore behind the bottom of that groove
SEATED_MM = 0.25  # depth of the groove in the bore that the ring lies in when the flange is home
ROOT_MM = 1.2  # how deep a boss goes into the wall at the wall's lowest place under it
TUBE_MM = 2.0  # wall of the boss round the bore: five lines
SHOULDER_MM = 0.8  # least width of the flange on the face of the boss
FLAPS_MM = (20.0, 18.0, 16.0)  # tried in this order where the flap is automatic
FLAP_MM = 0.8  # thickness that is reckoned with: silicone sheet of 0.5 to 0.8 mm


@dataclass(frozen=True)
class CartridgeLayout:
    """Radii and heights of a cartridge in its frame, mm.

    Attributes
    ----------
    valve : what it is laid out for.
    flap : diameter of the flap.
    bore, seat : inner and outer radius of the seat ring.
    ring : the O-ring on the spigot.
    spigot, groove : radius of the spigot, and of the bottom of its groove for the ring.
    socket : radius of the bore in the body.
    neck : radius of flange and neck.
    plane : height of the seat over the face of the boss.
    """

    valve: ValveSettings
    flap: float
    bore: float
    seat: float
    ring: ORing
    spigot: float
    groove: float
    socket: float
    neck: float
    plane: float

    @property
    def tube(self) -> float:
        """Outer radius of the boss."""
        return self.socket + TUBE_MM

    @property
    def depth(self) -> float:
        """How deep the spigot reaches into the bore."""
        return LAND_MM + self.groove_height + TIP_MM

    @property
    def bore_depth(self) -> float:
        """How deep the bore must be all round: the ring lies in it, the spigot's tip may look out."""
        return LAND_MM + self.groove_flat + BEHIND_MM

    @property
    def groove_flat(self) -> float:
        """Height of the bottom of the spigot's groove."""
        return 1.1 * self.ring.section_mm

    @property
    def groove_height(self) -> float:
        """Height of the spigot's groove at its mouth: its wall towards the tip leans by 45 degrees."""
        return self.groove_flat + self.spigot - self.groove

    @property
    def ring_middle(self) -> float:
        """Height of the middle of the groove's bottom (negative: inside the boss)."""
        return -LAND_MM - 0.5 * self.groove_flat

    @property
    def neck_top(self) -> float:
        """Height where the neck ends and the cone to the seat begins."""
        return self.plane - CONE_RISE * (self.neck - self.seat)

    @property
    def cover_outer(self) -> float:
        """Outer radius of the cover, or of the flap where there is none."""
        return self.neck + COVER_WALL_MM if self.valve.cover else 0.5 * self.flap

    @property
    def inside(self) -> float:
        """Height of the cover's inner side, or of the lifted flap."""
        return self.plane + self.valve.lift_mm

    @property
    def height(self) -> float:
        """Height of all that stands over the face of the boss."""
        return self.inside + (COVER_WALL_MM if self.valve.cover else 0.0)

    @property
    def open_mm2(self) -> float:
        """Free area between spokes and hub."""
        hub = _hub_mm(self.valve)
        return math.pi * (self.bore**2 - hub**2) - self.valve.spokes * self.valve.spoke_mm * (self.bore - hub)


def _hub_mm(valve: ValveSettings) -> float:
    return 0.5 * valve.button_mm + HUB_WALL_MM


def cartridge_layout(
    valve: ValveSettings, allowance: Allowance, flap_mm: float | None = None
) -> CartridgeLayout:
    """Lay out a cartridge for a flap: the ring is the smallest whose groove leaves the spigot's wall.

    Parameters
    ----------
    flap_mm : flap where the settings leave it open; None takes the largest of `FLAPS_MM`.

    Raises
    ------
    DoesNotFit : spokes and hub leave no opening, or no ring is large enough.
    """
    flap = valve.flap_mm or flap_mm or FLAPS_MM[0]
    seat = 0.5 * flap - valve.overlap_mm
    bore = seat - valve.seat_width_mm
    ring = _ring_over(bore + SPIGOT_WALL_MM + allowance.coating_mm)
    groove = 0.5 * ring.inside_mm * (1.0 + STRETCH)
    socket = groove + (1.0 - SQUEEZE) * ring.section_mm  # both coated surfaces, finished
    neck = max(0.5 * flap + RIM_MM, socket + SHOULDER_MM + EDGE_MM)
    layout = CartridgeLayout(
        valve=valve,
        flap=flap,
        bore=bore,
        seat=seat,
        ring=ring,
        spigot=socket - allowance.gap_mm - allowance.coating_mm,
        groove=groove - allowance.coating_mm,
        socket=socket + allowance.coating_mm,
        neck=neck - allowance.coating_mm,
        plane=NECK_MM + CONE_RISE * (neck - allowance.coating_mm - seat),
    )
    wide = _hub_mm(valve) > limit("valve_hub_share").value * bore
    if wide or layout.open_mm2 < limit("valve_open_share").value * math.pi * bore**2:
        raise DoesNotFit(
            f"Hub and spokes leave {layout.open_mm2:.0f} mm2 open in a valve bore of {2 * bore:.1f} mm "
            "diameter.",
            Where("port", key="port.valve.spokes"),
            "Use fewer or thinner spokes, a smaller button or a larger flap.",
        )
    return layout


def _ring_over(radius_mm: float) -> ORing:
    """The ring of least section, then least size, whose groove has at least a radius.

    Raises
    ------
    DoesNotFit : none is so large.
    """
    fits = [r for r in o_ring_sizes() if 0.5 * r.inside_mm * (1.0 + STRETCH) >= radius_mm]
    if not fits:
        raise DoesNotFit(
            f"No O-ring is large enough for a spigot of {2 * radius_mm:.0f} mm.",
            Where("port", key="port.valve.flap_mm"),
            "Use a smaller flap.",
        )
    return min(fits, key=lambda r: (r.section_mm, r.inside_mm))


def seat_disc(layout: CartridgeLayout, segments: int) -> Solid:
    """The seat disc: spigot, flange and neck in one, the cone that ends in the seat ring, and the spider."""
    plan, low = layout, -layout.depth
    middle = plan.neck_top - 0.5 * NECK_MM
    notch = _notch(plan)
    top, flat = -LAND_MM, plan.groove_flat
    profile = [
        (plan.bore, low),
        (plan.spigot - TIP_MM, low),
        (plan.spigot, top - plan.groove_height),
        (plan.groove, top - flat),
        (plan.groove, top),
        (plan.spigot, top),
        (plan.spigot, 0.0),
        (plan.neck - EDGE_MM, 0.0),
        (plan.neck, EDGE_MM),
        (plan.neck, middle - 0.3 - notch),
        (plan.neck - notch, middle - 0.3),
        (plan.neck - notch, middle + 0.3),
        (plan.neck, middle + 0.3 + notch),
        (plan.neck, plan.neck_top),
        (plan.seat, plan.plane),
        (plan.bore, plan.plane),
    ]
    return union("valve seat", revolved(profile, "valve seat", segments), _spider(plan))


def _notch(plan: CartridgeLayout) -> float:
    """Depth of the groove that the cover's bead lies in."""
    return SNAP_MM + 0.1


def _spider(plan: CartridgeLayout) -> Solid:
    """Spokes and hub with the hole for the flap's button."""
    valve = plan.valve
    top = plan.plane - valve.dome_mm
    low = top - SPIDER_MM
    hole = 0.5 * valve.button_mm
    half, reach = 0.5 * valve.spoke_mm, plan.bore + 0.6
    bars = []
    for i in range(valve.spokes):
        turn = 2.0 * math.pi * i / valve.spokes
        frame = np.eye(4)
        frame[:2, :2] = [[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]]
        bars.append(cuboid((hole + 0.5, -half, low), (reach, half, top), "spoke").moved(frame))
    return union("valve spokes", tube(hole, hole + HUB_WALL_MM, low, top, "hub", 64), *bars)


def cover_solid(layout: CartridgeLayout, allowance: Allowance) -> Solid:
    """A cap over the flap: windows round its wall, a bead that snaps into the groove of the neck."""
    plan = layout
    inner = plan.neck + allowance.coating_mm + allowance.female_offset_mm
    outer, inside = inner + COVER_WALL_MM, plan.inside
    low, bead = EDGE_MM, plan.neck_top - 0.5 * NECK_MM
    tip = SNAP_MM + allowance.female_offset_mm
    profile = [
        (0.0, inside),
        (inner, inside),
        (inner, bead + 0.2 + tip),
        (inner - tip, bead + 0.2),
        (inner - tip, bead - 0.2),
        (inner, bead - 0.2 - tip),
        (inner, low + EDGE_MM),
        (inner + EDGE_MM, low),
        (outer, low),
        (outer, inside + COVER_WALL_MM - EDGE_MM),
        (outer - EDGE_MM, inside + COVER_WALL_MM),
        (0.0, inside + COVER_WALL_MM),
    ]
    return difference("valve cover", revolved(profile, "valve cover"), _windows(inner, outer, plan))


def _windows(inner: float, outer: float, plan: CartridgeLayout) -> Solid:
    """Radial openings from the cover's plate down past the flap, pitched at their far end."""
    count = max(4, int(2.0 * math.pi * inner / (WINDOW_MM + 2.5)))
    half, sill, top = 0.5 * WINDOW_MM, plan.plane - 0.3, plan.inside
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


def flap_solid(layout: CartridgeLayout) -> Solid:
    """The closed flap as a slab (for checks and pictures; not printed)."""
    hole, plane = 0.5 * layout.valve.button_mm, layout.plane
    return tube(hole, 0.5 * layout.flap, plane, plane + FLAP_MM, "valve flap", 64)


def socket_cutter(layout: CartridgeLayout, inner_z: float, segments: int) -> Solid:
    """The plain bore of the body with the shallow groove for the ring and a broken edge at its mouth.

    Parameters
    ----------
    inner_z : height of the cutter's inner end.
    """
    radius, deep = layout.socket, layout.socket + SEATED_MM
    middle, half = layout.ring_middle, 0.35 * layout.ring.section_mm
    profile = [
        (0.0, inner_z),
        (radius, inner_z),
        (radius, middle - half - SEATED_MM),
        (deep, middle - half),
        (deep, middle + half),
        (radius, middle + half + SEATED_MM),
        (radius, -EDGE_MM),
        (radius + EDGE_MM, 0.0),
        (radius + EDGE_MM, 4.0),
        (0.0, 4.0),
    ]
    return revolved(profile, "valve bore", segments)
