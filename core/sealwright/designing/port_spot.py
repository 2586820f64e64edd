"""Where a further port has room on the chamber wall: looked for near the axis that the maker wishes.

A further port stands on a tube that grows out of the wall, as far out as what is screwed on it needs to keep
clear of wall, skin, lugs, and of what hangs on the other ports.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..facepiece.cylinder_room import Cylinder
from ..facepiece.port_place import PortPlaceSettings, port_frame
from ..hardware.holder_layout import HOLDER_ROOM_MM, HolderLayout
from ..hardware.port_parts import PortParts
from ..hardware.port_tube import (
    MATE_MM,
    ROOT_MM,
    TALLEST_MM,
    holder_needs_mm,
    tube_radius_mm,
    wall_needs_mm,
)
from ..limits import limit
from ..mesh import Floats

AIM_MM = 12.0  # in front of the lips: an axis that leaves from there leaves from within the chamber
_TURNS_DEG = (0.0, 6.0, -6.0, 12.0, -12.0, 18.0, -18.0, 24.0, -24.0)
_TILTS_DEG = tuple(float(tilt) for tilt in range(-20, 51, 10))
_RAISES_MM = tuple(float(up) for up in range(-20, 21, 8))
_SPARE_MM = 0.3  # the skin is looked at on every few pixels only
_OFF_LUG_MM = 1.0  # between its tube and a lug
_SECTORS = 12
_WISH_SHARE = 0.25  # mm of tube that a degree off the wish is worth
_MIRROR = np.array([-1.0, 1.0, 1.0])


@dataclass(frozen=True)
class Site:
    """What a further port has to do with.

    Attributes
    ----------
    mouth : (3,) where the axis of a port without raise passes.
    wall : (n, 3) outer side of the chamber wall proper.
    body : (n, 3) points of the whole outer side.
    lugs : (n, 3) points of lugs and of the straps in them.
    skin : (n, 3) points of the skin.
    taken : what hangs on the ports that stand already.
    twin : another port wishes the mirrored axis: room is kept for it.
    """

    mouth: Floats
    wall: Floats
    body: Floats
    lugs: Floats
    skin: Floats
    taken: tuple[Cylinder, ...]
    twin: bool = False


@dataclass(frozen=True, eq=False)
class PortSpot:
    """A place with room.

    Attributes
    ----------
    frame : of the port.
    flank_mm : how far it stands over the lowest place of the wall under it.
    aim : the axis it stands on.
    """

    frame: Floats
    flank_mm: float
    aim: PortPlaceSettings


def hung_room(frame: Floats, parts: PortParts, holder: HolderLayout | None) -> tuple[Cylinder, ...]:
    """The room of a port and of what hangs on it, air before it included."""
    if holder is None:
        box = parts.keep_clear.mesh.bounds
        radius = max(parts.boss_radius_mm + MATE_MM, float(box[1, 0]))
        return (Cylinder(frame, radius, float(box[0, 2]), float(box[1, 2])),)
    rim, out = holder.seat.reach_mm() + HOLDER_ROOM_MM, holder.z_out
    cap = Cylinder(frame, holder.skirt_radius + 1.0, out - holder.top, out)
    return (cap, Cylinder(frame, rim, out - holder.back, out + 24.0))


def tube_room(frame: Floats, parts: PortParts, off_mm: float) -> Cylinder:
    """A port with the tube under it, and so much round it."""
    radius = max(parts.boss_radius_mm, tube_radius_mm(parts)) + off_mm
    low = min(float(parts.boss.mesh.bounds[0, 2]), -parts.tube_mm - ROOT_MM)
    return Cylinder(frame, radius, low, parts.length_mm)


def find_port_spot(
    place: PortPlaceSettings, parts: PortParts, holder: HolderLayout | None, site: Site
) -> PortSpot | str:
    """The place nearest to the wish with the shortest tube; else what most often is in the way."""
    best: tuple[float, PortSpot] | None = None
    blocked: dict[str, int] = {}
    for one in _tried(place):
        found = _looked_at(one, parts, holder, site)
        if isinstance(found, str):
            blocked[found] = blocked.get(found, 0) + 1
            continue
        cost = round(found.flank_mm + _WISH_SHARE * abs(one.turn_deg - place.turn_deg), 3)
        if best is None or cost < best[0]:
            best = (cost, found)
    if best is not None:
        return best[1]
    return " or the ".join(sorted(blocked, key=lambda name: -blocked[name])[:2])


def _tried(place: PortPlaceSettings) -> Iterator[PortPlaceSettings]:
    """Axes near the wish; mirrored wishes are tried in mirrored order."""
    side = -1.0 if place.turn_deg < 0.0 else 1.0
    tilts = _TILTS_DEG if place.tilt_deg is None else (place.tilt_deg,)
    raises = _RAISES_MM if place.raise_mm is None else (place.raise_mm,)
    for turn, tilt, up in product(_TURNS_DEG, tilts, raises):
        yield replace(
            place,
            turn_deg=place.turn_deg + side * turn,
            tilt_deg=tilt,
            raise_mm=up,
            front_mm=AIM_MM,
        )


def _looked_at(
    place: PortPlaceSettings, parts: PortParts, holder: HolderLayout | None, site: Site
) -> PortSpot | str:
    """The spot on one axis, or what is in the way."""
    frame = port_frame(site.mouth, place)
    local = (site.wall - frame[:3, 3]) @ frame[:3, :3]
    across = np.hypot(local[:, 0], local[:, 1])
    tube = tube_radius_mm(parts)
    foot = (local[:, 2] > 0.0) & (np.abs(across - tube) < 2.5)
    sector = (np.arctan2(local[foot, 1], local[foot, 0]) / (2.0 * np.pi) % 1.0 * _SECTORS).astype(int)
    if len(np.unique(sector)) < _SECTORS:
        return "end of the wall"
    lowest = float(local[foot, 2].min())
    frame[:3, 3] += lowest * frame[:3, 2]
    further = max(0.0, *(wall_needs_mm(frame, parts, holder, points) for points in (site.body, site.lugs)))
    if holder is not None:
        further = max(further, holder_needs_mm(frame, site.skin, holder, limit("off_skin").value + _SPARE_MM))
    if further > TALLEST_MM:
        return "face under the part that it carries"
    frame[:3, 3] += further * frame[:3, 2]
    start = float(parts.boss.mesh.bounds[0, 2])
    foot_room = Cylinder(frame, tube + _OFF_LUG_MM, -further - 1.0, parts.length_mm)
    boss_room = Cylinder(frame, parts.boss_radius_mm + _OFF_LUG_MM, start, parts.length_mm)
    if foot_room.holds(site.lugs) or boss_room.holds(site.lugs):
        return "strap lug"
    for own in hung_room(frame, parts, holder):
        points = own.points()
        if any(other.holds(points) or own.holds(other.points()) for other in site.taken):
            return "part on another port"
        if site.twin and own.holds(points * _MIRROR + (1.0 - _MIRROR) * site.mouth):
            return "part on the port that mirrors it"
    return PortSpot(frame, further, place)


def mirrored_spot(
    spot: PortSpot, parts: PortParts, holder: HolderLayout | None, site: Site
) -> PortSpot | None:
    """The mirrored place of a port's twin, None where it has no room."""
    found = _looked_at(replace(spot.aim, turn_deg=-spot.aim.turn_deg), parts, holder, site)
    return found if isinstance(found, PortSpot) else None


def no_spot(number: int, frame: Floats, why: str, fix: str) -> DoesNotFit:
    """The refusal of a further port that finds no room."""
    return DoesNotFit(
        f"Port {number} finds no room on the wall near its axis: the {why} is in the way.",
        Where(f"port {number}", point=plain_point(frame[:3, 3]), key=f"recipe.ports[{number - 1}]"),
        fix,
    )


def smaller_media(holder_mm: float) -> Sequence[float]:
    """Diameters of media to try where a holder does not fit, largest first."""
    return [disc for disc in (110.0, 100.0, 90.0, 80.0, 70.0, 60.0) if disc < holder_mm]
