"""What belongs to the ports: holders, retainers, rings and covers in place, how they print, their room."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..face.surface import FaceSurface
from ..facepiece.body import Placed
from ..facepiece.strap_points import StrapPoint
from ..hardware.allowance import Allowance
from ..hardware.collisions import Room, require_free
from ..hardware.holder import HolderParts, make_holder
from ..hardware.lugs import LugParts
from ..hardware.port_parts import PortParts
from ..limits import limit
from ..mesh import Floats, TriMesh, at_any_corner
from ..recipe import Recipe
from ..recipe.decisions import holder_on, ports_of
from ..solids.boolean import Solid
from ..solids.primitives import cylinder

_MATE_MM = 4.0  # a hose or a socket and its clamp round a boss
_MATE_BACK_MM = 1.0  # it ends before the back of the boss


# A holder is the same on every face: the last ones are kept for the whole session.
_holder = lru_cache(maxsize=8)(make_holder)


def holders_of(recipe: Recipe, ports: Sequence[Placed], allowance: Allowance) -> list[HolderParts | None]:
    """The holder of each port that carries one, None for the others."""
    holders: list[HolderParts | None] = [None] * len(ports)
    for number, place in enumerate(ports_of(recipe)[: len(ports)]):
        settings = holder_on(recipe, number)
        if settings is not None:
            holders[number] = _holder(settings, place.connection, allowance)
    return holders


def hardware_parts(
    recipe: Recipe, ports: Sequence[Placed], holders: Sequence[HolderParts | None]
) -> dict[str, Solid]:
    """Holders, retainers, soft rings and valves in place, numbered where several ports have the same."""
    parts: dict[str, Solid] = {}
    for number, (placed, holder) in enumerate(zip(ports, holders, strict=True)):
        found = [] if holder is None else [("holder", holder.body), ("retainer", holder.retainer)]
        found += [(_part_name(extra), extra) for extra in placed.parts.extra]
        parts |= {
            on_port(name, number, ports): solid.moved(placed.frame)
            for name, solid in found
            if solid is not None
        }
    return parts


def on_port(name: str, number: int, ports: Sequence[Placed]) -> str:
    """The name of a part on a port, from 0: with the number of the port where several have such a part."""
    having = [placed for placed in ports if name in _names(placed)]
    return f"{name}-{number + 1}" if len(having) > 1 else name


def _names(placed: Placed) -> set[str]:
    """Names of the parts that a port may have."""
    screwed = {"holder", "retainer"} if placed.parts.holds else set()
    return screwed | {_part_name(extra) for extra in placed.parts.extra}


def ring_port(ports: Sequence[Placed], name: str) -> int | None:
    """Number of the port, from 0, whose soft ring a part is; None for all other parts."""
    for number, placed in enumerate(ports):
        for extra in placed.parts.extra:
            if extra.role == "soft ring" and name == on_port(_part_name(extra), number, ports):
                return number
    return None


def _part_name(solid: Solid) -> str:
    return solid.role.replace(" ", "-")


def print_up(ports: Sequence[Placed], holders: Sequence[HolderParts | None]) -> dict[str, Floats]:
    """Which way up the body and the parts on its ports print, as their makers say."""
    up: dict[str, Floats] = {}
    for number, placed in enumerate(ports):
        turn, own = placed.frame[:3, :3], np.array(placed.parts.print_up)
        if number == 0:
            up["body"] = turn @ own
        up |= {on_port(_part_name(extra), number, ports): turn @ own for extra in placed.parts.extra}
    for number, (placed, holder) in enumerate(zip(ports, holders, strict=False)):
        for name, way in (holder.print_up if holder is not None else {}).items():
            up[on_port(name, number, ports)] = placed.frame[:3, :3] @ np.array(way)
    return up


def outside_parts(ports: Sequence[Placed], holders: Sequence[HolderParts | None]) -> list[Room]:
    """Holders and what else stands on the ports outside the mask, in place."""
    outside = []
    for number, (placed, holder) in enumerate(zip(ports, holders, strict=True), start=1):
        if holder is not None:
            key = f"{placed.key}.front_mm"
            outside.append(Room(f"holder {number}", holder.body.moved(placed.frame), key))
        outside += [Room(f"{p.role} {number}", p.moved(placed.frame), placed.key) for p in placed.parts.extra]
    return outside


def require_off_skin(face: FaceSurface, things: Sequence[Room], least_mm: float | None = None) -> None:
    """Refuse a part outside the mask that touches the nose, a cheek or the chin.

    Corners, edges and middles of the triangles are looked at where there is skin under them. The limit is
    ``off_skin`` of the table of limits unless ``least_mm`` is given.

    Raises
    ------
    DoesNotFit : a part nearer to the skin than ``least_mm``; `where.point` is its nearest place.
    """
    least_mm = limit("off_skin").value if least_mm is None else least_mm
    furthest = float(np.nanmax(np.where(face.known, face.radii, np.nan)))
    for thing in things:
        mesh = thing.solid.mesh
        away = np.linalg.norm(mesh.vertices - face.chart.centre, axis=1)
        # Places on a triangle lie no nearer to the centre than its nearest corner by more than half its side.
        low = at_any_corner(away < furthest + least_mm + 0.6 * _longest_side(mesh), mesh.faces)
        corners = mesh.corners[low] if low.any() else mesh.corners[:1]
        edges = 0.5 * (corners + np.roll(corners, 1, axis=1))
        places = np.concatenate([corners.reshape(-1, 3), edges.reshape(-1, 3), corners.mean(axis=1)])
        near = np.linalg.norm(places - face.chart.centre, axis=1) < furthest + least_mm
        places = places[near] if near.any() else places[:1]
        height = np.where(face.is_known(face.chart.place_of(places)[0]), face.height_of(places), np.inf)
        worst = int(np.argmin(height))
        if height[worst] < least_mm:
            raise DoesNotFit(
                f"The {thing.role} is {height[worst]:.1f} mm from the skin; it needs {least_mm:g} mm.",
                Where(thing.role, point=plain_point(places[worst]), key=thing.key),
                "Bring the port forward, tilt it away, give the holder a longer neck, or a smaller filter.",
            )


def _longest_side(mesh: TriMesh) -> float:
    """Length of the longest edge, mm."""
    sides = mesh.corners - np.roll(mesh.corners, 1, axis=1)
    return float(np.sqrt(np.einsum("ijk,ijk->ij", sides, sides).max()))


def _mate(parts: PortParts) -> Solid:
    """What is pushed or screwed on a port that has no holder: beside the boss, from the end of its back on.

    A lug may grow out of the boss itself, which is one part with it.
    """
    low, high = parts.keep_clear.mesh.bounds[:, 2]
    return cylinder(parts.boss_radius_mm + _MATE_MM, float(low) + _MATE_BACK_MM, float(high), "part on port")


def require_room(
    ports: Sequence[Placed],
    holders: Sequence[HolderParts | None],
    made: tuple[Solid, Solid],
    lugs: Sequence[tuple[LugParts, StrapPoint]],
    keys: tuple[str, str] = ("recipe.chamber", "recipe.straps"),
) -> None:
    """Refuse ports or holders in each other's way, a holder that meets the body, a lug in a mating part.

    Parameters
    ----------
    ports, holders, lugs : in place.
    made : the shell without any fittings, and the whole body.
    keys : recipe keys that move the body's wall and the lugs.

    Raises
    ------
    DoesNotFit : the first thing in the way, with the place and the recipe keys that move it.
    """
    wall, body = (Room(n, s, keys[0]) for n, s in zip(("body wall", "body"), made, strict=True))
    rooms, things, mates = [], [], []
    for number, (placed, holder) in enumerate(zip(ports, holders, strict=True), start=1):
        key, frame, parts = placed.key, placed.frame, placed.parts
        thing = [parts.boss] if holder is None else [holder.body]
        mate = [_mate(parts)] if holder is None else [holder.body]
        if holder is not None:
            room = holder.keep_clear
            require_free([Room(f"holder {number}", room.moved(frame), "recipe.holder.neck_mm")], [wall])
        else:
            room = parts.keep_clear
        # What meets the body cannot be put on; a soft ring lies in the boss itself.
        covers = [extra for extra in parts.extra if extra.role != "soft ring"]
        require_free([Room(f"{c.role} {number}", c.moved(frame), key) for c in covers], [body])
        if parts.reaches_in:
            way = Room(f"way of valve {number}", room.moved(frame), key)
            require_free([way], [body])
            thing += [cover for cover in covers if cover.role == "valve cover"]
            mate = [room]
        if not placed.alone:
            rooms.append((number, Room(f"part on port {number}", room.moved(frame), key)))
        things.append([Room(f"port {number}", solid.moved(frame), key) for solid in thing])
        mates += [Room(f"part on port {number}", solid.moved(frame), key) for solid in mate]
    standing = [
        Room(f"lug {number}", parts.solid.moved(place.frame), keys[1])
        for number, (parts, place) in enumerate(lugs, start=1)
    ]
    require_free(mates, standing)
    for number, needed in rooms:
        others = [thing for other, port in enumerate(things, start=1) if other != number for thing in port]
        require_free([needed], others)
