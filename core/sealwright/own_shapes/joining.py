"""Ports, lugs and cuts on a closed body: united, bored and cut, refused where they meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..hardware.collisions import Room, require_free
from ..mesh import Bools, TriMesh
from ..solids.boolean import Solid, difference, pieces, shared_volume, union
from ..solids.crossings import uncrossed
from ..solids.distance import MeshDistance
from .standing_lug import StandingLug
from .standing_port import StandingPort

_CRUMB = 0.01  # of the volume: what a cut may leave beside the one piece
_TOUCH_MM3 = 1e-3
_SAME_MM = 1e-3  # a surface that lies nearer to where it was has not been touched


@dataclass(frozen=True, eq=False)
class Joined:
    """A body with its fittings: one piece, closed, outward."""

    solid: Solid
    ports: tuple[StandingPort, ...] = ()
    lugs: tuple[StandingLug, ...] = ()


def cut(body: Solid, cutters: Sequence[Solid]) -> Solid:
    """A body without what some cutters hold.

    Parameters
    ----------
    body, cutters : closed, outward, in one frame.

    Raises
    ------
    DoesNotFit : a cutter does not reach the body, takes all of it, or leaves it in several pieces.
    """
    for number, cutter in enumerate(cutters, start=1):
        role = f"cutter {number}"
        shared = shared_volume(body, cutter)
        if shared < _TOUCH_MM3:
            away, _, near = MeshDistance(body.mesh).closest(cutter.mesh.vertices)
            at = int(np.argmin(away))
            raise DoesNotFit(
                f"The {role} does not reach the {body.role}: it comes as near as {away[at]:.1f} mm.",
                Where(role, point=plain_point(near[at])),
                "Move it, or check the frame and the unit of its file.",
            )
        if shared > (1.0 - _CRUMB) * body.volume:
            raise DoesNotFit(
                f"The {role} takes the whole {body.role} away.",
                Where(role, point=plain_point(body.mesh.vertices[0])),
                "Give a smaller one; it is cut out of the shape, not kept.",
            )
        body = _one_piece(difference(body.role, body, cutter), role)
    return uncrossed(body) if cutters else body


def join(body: Solid, ports: Sequence[StandingPort], lugs: Sequence[StandingLug]) -> Joined:
    """A body united with its fittings, and bored.

    Parameters
    ----------
    body : closed, outward, mm.
    ports, lugs : that were stood on it.

    Raises
    ------
    DoesNotFit : two of them meet; or a bore comes out beside its boss, or a slot is not free.
    BooleanFailed : a union or cut gave something that cannot be right.
    """
    if not ports and not lugs:
        return Joined(body)
    _require_apart(ports, lugs)
    whole = union(body.role, body, *(port.boss for port in ports), *(lug.solid for lug in lugs))
    if ports:
        whole = difference(body.role, whole, *(port.bore for port in ports))
    whole = uncrossed(_one_piece(whole, "fitting"))
    opened, wanted = whole.genus - body.genus, len(ports) + len(lugs)
    if opened != wanted:
        first = ports[0].placed.frame if ports else lugs[0].point.frame
        raise DoesNotFit(
            f"{wanted} fittings open {wanted} ways through the {body.role}; these open {opened}: a bore "
            "comes out beside its boss, or the body fills a slot.",
            Where("fitting", point=plain_point(first[:3, 3])),
            "Give them one by one to see which; then move or turn it, or take a smaller one.",
        )
    return Joined(whole, tuple(ports), tuple(lugs))


def rooms_of(ports: Sequence[StandingPort], lugs: Sequence[StandingLug]) -> list[Room]:
    """What fittings take of space, in place: bosses and lugs."""
    bosses = [Room(f"port {n}", port.boss, port.placed.key) for n, port in enumerate(ports, start=1)]
    return bosses + [Room(f"lug {n}", lug.solid, lug.key) for n, lug in enumerate(lugs, start=1)]


def require_untouched(before: TriMesh, after: TriMesh, kept: Bools, role: str, fix: str) -> None:
    """Refuse fittings or cuts that take something of a surface which must stay as it is.

    Parameters
    ----------
    before, after : meshes of the body without and with them.
    kept : (m,) triangles of ``before`` that must stay.
    role : what that surface is.
    fix : how to mend it.

    Raises
    ------
    DoesNotFit : with the place.
    """
    if not kept.any():
        return
    places = before.corners[kept].mean(axis=1)
    away = MeshDistance(after).to(places)
    worst = int(np.argmax(away))
    if away[worst] > _SAME_MM:
        raise DoesNotFit(
            f"A fitting or a cut takes some of the {role}.",
            Where(role, point=plain_point(places[worst])),
            fix,
        )


def _require_apart(ports: Sequence[StandingPort], lugs: Sequence[StandingLug]) -> None:
    """Refuse bosses and lugs that meet, and bores that meet what is not theirs.

    Raises
    ------
    DoesNotFit : with the place and the keys that move them.
    """
    rooms = rooms_of(ports, lugs)
    for number, room in enumerate(rooms):
        require_free([room], rooms[number + 1 :])
    for number, port in enumerate(ports):
        bore = Room(f"bore of port {number + 1}", port.bore, port.placed.key)
        require_free([bore], rooms[:number] + rooms[number + 1 :])


def _one_piece(body: Solid, role: str) -> Solid:
    """The one real piece that a cut leaves.

    Raises
    ------
    DoesNotFit : it leaves several.
    """
    parts = pieces(body)
    if len(parts) > 1 and sum(part.volume for part in parts[1:]) > _CRUMB * body.volume:
        raise DoesNotFit(
            f"The {role} leaves the {body.role} in {len(parts)} pieces, the second of "
            f"{parts[1].volume:.0f} mm3.",
            Where(role, point=plain_point(parts[1].mesh.vertices[0])),
            "Let it cut less, or leave a bridge.",
        )
    return parts[0].named(body.role)
