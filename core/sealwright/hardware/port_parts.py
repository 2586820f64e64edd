"""What every kind of port gives: boss, bore, room for the mating part, and the shapes they share.

Port frame, right-handed: +Z along the port axis out of the mask, origin on the axis in the plane where the
chamber wall ends and the boss begins.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from ..errors import Remark
from ..solids.boolean import Solid, difference
from ..solids.primitives import revolved
from .options import PortSettings
from .port_facts import PortFacts

THROAT_LIP_MM = (
    0.4  # the wall's inner radius is this much larger than the bore: the bore never skims the wall
)
BORE_REACH_MM = 4.0  # how far the bore reaches beyond the boss at both ends
EDGE_MM = 0.4  # chamfers of front faces: take up the first-layer flare (0.1 to 0.3 mm a side)
HAND_MM = 16.0  # fingers round a mating part


@dataclass(frozen=True)
class PortParts:
    """The solids of a port in the port frame.

    Attributes
    ----------
    boss : to be united with the body; from -overlap to its length, filled to the axis.
    bore : to be subtracted from the body after the union; reaches well beyond both ends of the boss.
    seat_radius_mm : inner radius of the chamber wall where it meets the boss (the throat).
    boss_radius_mm : outer radius of the boss at z = 0.
    keep_clear : room for the mating part and the hand that turns it.
    facts : sizes for the report and for the parts that mate.
    length_mm : height of the front face over z = 0.
    extra : further printed parts in place (soft ring, valve seat and cover); each solid's role names it.
    bought : parts in place that are bought or cut (valve flap), for checks and pictures.
    remarks : what the maker should know.
    print_up : direction in the port frame that points up when boss or extra parts print: face down.
    foot : what joins the boss to the wall, without what would stand inside it; None without.
    reaches_in : the boss goes through the wall into the chamber; else what would is cut off.
    tube_mm : how far it stands off the wall, on a tube that its bore goes through.
    holds : a filter holder is screwed on.
    travel_mm : how far ``extra`` comes out along the axis before it is free; in ``keep_clear``.
    """

    boss: Solid
    bore: Solid
    seat_radius_mm: float
    boss_radius_mm: float
    keep_clear: Solid
    facts: PortFacts
    length_mm: float
    extra: tuple[Solid, ...] = ()
    remarks: tuple[Remark, ...] = ()
    print_up: tuple[float, float, float] = (0.0, 0.0, -1.0)
    foot: Solid | None = None
    reaches_in: bool = False
    bought: tuple[Solid, ...] = ()
    travel_mm: float = 0.0
    tube_mm: float = 0.0
    holds: bool = False

    @cached_property
    def bored(self) -> Solid:
        """The boss with its bore already cut."""
        return difference(self.boss.role, self.boss, self.bore)


@dataclass(frozen=True)
class Back:
    """The conical back of a boss: from inside the chamber wall out to the boss at 45 degrees.

    Attributes
    ----------
    low_radius : radius at -overlap, inside the chamber wall.
    top : height where the cone reaches the boss radius.
    at_zero : radius at z = 0.
    """

    low_radius: float
    top: float
    at_zero: float


def back_cone(settings: PortSettings, bore_radius_mm: float, boss_radius_mm: float) -> Back:
    """Lay out the back of a boss: it ends at least 0.4 mm above z = 0 and overhangs 45 degrees at most."""
    inside = bore_radius_mm + THROAT_LIP_MM + 0.5 * settings.wall_mm
    top = max(boss_radius_mm - inside - settings.overlap_mm, 0.4)
    low = max(inside, boss_radius_mm - (top + settings.overlap_mm))
    share = settings.overlap_mm / (top + settings.overlap_mm)
    return Back(low, top, low + share * (boss_radius_mm - low))


def boss_core(settings: PortSettings, back: Back, radius_mm: float, length_mm: float) -> Solid:
    """A filled boss: conical back, cylinder, front edge broken."""
    profile = [
        (0.0, -settings.overlap_mm),
        (back.low_radius, -settings.overlap_mm),
        (radius_mm, back.top),
        (radius_mm, length_mm - EDGE_MM),
        (radius_mm - EDGE_MM, length_mm),
        (0.0, length_mm),
    ]
    return revolved(profile, "port core", settings.segments)


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
