"""A port on any closed body: how far out it stands, its bore to the first hollow, its boss off that."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import DoesNotFit, Where, plain_point
from ..facepiece.body import Placed
from ..hardware.holder_layout import HolderLayout
from ..hardware.port_parts import THROAT_LIP_MM, PortParts
from ..hardware.port_tube import MATE_MM, ROOT_MM, TALLEST_MM, on_tube, tube_radius_mm, wall_needs_mm
from ..limits import limit
from ..mesh import Floats
from ..solids.boolean import Solid, difference, union
from ..solids.primitives import circle, cylinder
from .columns import Columns, columns_under, disc_places
from .hollow import hollows_behind, without

FINE_MM = 2.5
"""Edges of a body when it is looked at from a fitting."""

_STEP_MM = 2.0  # between the rays under a boss
_COLUMN_MM = 0.3  # how much wider than the root the look behind the wall is
_BREAK_MM = 1.0  # the bore's cutter reaches so far into the hollow, half the way to what lies behind at most
_LEAST_BREAK_MM = 0.2


@dataclass(frozen=True, kw_only=True)
class PortStand:
    """How a port stands, mm; the names are also keys of the report.

    ``wall_mm`` is the least thickness under it along its axis, ``bore_mm`` the length of the bore from the
    front face to where it opens, ``tube_mm`` how far the boss stands off the lowest place of the surface
    under it, ``surface_mm`` the difference between the highest and the lowest place there, ``in_hollow_mm``
    how far it reaches into the hollow, which only a valve does.
    """

    wall_mm: float
    bore_mm: float
    tube_mm: float
    surface_mm: float
    in_hollow_mm: float


@dataclass(frozen=True, eq=False)
class StandingPort:
    """A port in place, not yet joined to its body.

    Attributes
    ----------
    placed : its parts and frame.
    boss, bore : in place; to be united with the body, and to be cut out of it after that.
    stand : how it stands.
    """

    placed: Placed
    boss: Solid
    bore: Solid
    stand: PortStand


def standing_port(
    body: Solid, parts: PortParts, frame: Floats, holder: HolderLayout | None = None, key: str = "port"
) -> StandingPort:
    """Stand a port on a body.

    Parameters
    ----------
    body : closed, outward, mm.
    parts : of `make_port`, in the port frame.
    frame : 4x4, origin on the surface, +Z out; see `standing_frame`.
    holder : layout of what is screwed on, which keeps off the body; None without.
    key : dotted recipe key that moves it, for messages.

    Raises
    ------
    DoesNotFit : the surface ends under it, is too uneven, or the wall is too thin; the hollow behind is so
        narrow that the bore would cut what lies beyond; or something of the body stands where its holder
        goes. It is said what would fit.
    """
    root = max(tube_radius_mm(parts), parts.boss_radius_mm)
    places = np.concatenate([disc_places(radius, _STEP_MM) for radius in (root, _bore_radius(parts))])
    under = columns_under(body.mesh, frame, places, TALLEST_MM)
    _require_ground(under, frame, root, key)
    lowest = float(under.surface.min())
    stands = frame.copy()
    stands[:3, 3] += lowest * frame[:3, 2]
    flank = _flank(body, parts, stands, holder, key)
    stands[:3, 3] += flank * frame[:3, 2]
    parts = on_tube(parts, flank)
    under = _lowered(under, lowest + flank)
    parts = replace(parts, bore=_bore_to(parts, _bottom(under, parts, stands, key)))
    boss, inside = _boss(body, parts, stands, under, root)
    stand = PortStand(
        wall_mm=float(under.thick.min()),
        bore_mm=parts.length_mm - float(_bored(under, parts).far.min()),
        tube_mm=flank,
        surface_mm=float(np.ptp(under.surface)),
        in_hollow_mm=inside,
    )
    return StandingPort(Placed(parts, stands, key), boss, parts.bore.moved(stands).named("bore"), stand)


def _boss(
    body: Solid, parts: PortParts, frame: Floats, under: Columns, root_mm: float
) -> tuple[Solid, float]:
    """Boss and tube in place without what would stand in the hollow, and how far it does all the same, mm."""
    deep = min(float(one.mesh.bounds[0, 2]) for one in (parts.boss, parts.foot) if one is not None)
    hollows = hollows_behind(body, frame, circle(root_mm + _COLUMN_MM, 64), under, deep)
    boss, inside = parts.boss.moved(frame).named("port boss"), 0.0
    if parts.reaches_in:
        inside = max(float(under.far.max() - parts.boss.mesh.bounds[0, 2]), 0.0)
    else:
        boss = without(boss, hollows)
    if parts.foot is None:
        return boss, inside
    return union("port boss", boss, without(parts.foot.moved(frame).named("port foot"), hollows)), inside


def _require_ground(under: Columns, frame: Floats, radius: float, key: str) -> None:
    """Refuse ground that ends, falls away too far or is too thin under a boss.

    Raises
    ------
    DoesNotFit : with the place, and the size that has ground there.
    """
    away = np.hypot(*under.places.T)
    missing = ~under.there
    if missing.any():
        at = int(np.flatnonzero(missing)[np.argmin(away[missing])])
        point = frame[:3, 3] + frame[:3, :2] @ under.places[at]
        raise DoesNotFit(
            f"The surface ends {away[at]:.1f} mm beside the middle of the port; its boss needs "
            f"{radius:.1f} mm all round.",
            Where("port", point=plain_point(point), key=key),
            _smaller(away[at], radius),
        )
    span = float(np.ptp(under.surface))
    if span > TALLEST_MM:
        at = int(np.argmin(under.surface))
        raise DoesNotFit(
            f"The surface falls away by {span:.1f} mm under the port; {TALLEST_MM:g} mm is the most.",
            Where("port", point=_point(frame, under, at), key=key),
            "Turn its axis square to the surface, choose a flatter place, or a smaller port.",
        )
    thin, least = int(np.argmin(under.thick)), limit("fitting_wall").value
    if under.thick[thin] < least:
        raise DoesNotFit(
            f"The wall under the port is {under.thick[thin]:.2f} mm thick; {least:g} mm is the least.",
            Where("port", point=_point(frame, under, thin), key=key),
            "Make the wall thicker there, or choose another place.",
        )


def _smaller(room_mm: float, radius_mm: float) -> str:
    """What would fit on ground that ends."""
    less = np.ceil(2.0 * (radius_mm - room_mm))
    return f"A port smaller by {less:.0f} mm across would fit there; or move it further from the edge."


def _point(frame: Floats, under: Columns, at: int) -> tuple[float, float, float]:
    local = np.append(under.places[at], under.surface[at])
    return plain_point(frame[:3, 3] + frame[:3, :3] @ local)


def _flank(body: Solid, parts: PortParts, frame: Floats, holder: HolderLayout | None, key: str) -> float:
    """How far a port must stand off the lowest place under it for what it carries to clear the body, mm.

    Raises
    ------
    DoesNotFit : further than a tube may be.
    """
    points = body.with_short_edges(FINE_MM).mesh.vertices
    local = (points - frame[:3, 3]) @ frame[:3, :3]
    needed = max(0.0, wall_needs_mm(frame, parts, holder, points))
    if needed <= TALLEST_MM:
        return needed
    reach = parts.boss_radius_mm + MATE_MM if holder is None else holder.seat.reach_mm()
    near = np.hypot(local[:, 0], local[:, 1]) < reach
    worst = int(np.argmax(np.where(near, local[:, 2], -np.inf)))
    raise DoesNotFit(
        f"The body stands {local[worst, 2]:.1f} mm high beside the port, where what it carries goes: it "
        f"would need a tube of {needed:.0f} mm; {TALLEST_MM:g} mm is the most.",
        Where("port", point=plain_point(points[worst]), key=key),
        "Move or turn it away from there, or let it carry something smaller.",
    )


def _lowered(under: Columns, by_mm: float) -> Columns:
    """The same columns in a frame that stands further out."""
    return replace(under, surface=under.surface - by_mm, far=under.far - by_mm, behind=under.behind - by_mm)


def _bore_radius(parts: PortParts) -> float:
    return parts.seat_radius_mm - THROAT_LIP_MM


def _bored(under: Columns, parts: PortParts) -> Columns:
    """The columns in the bore."""
    inside = np.hypot(*under.places.T) <= _bore_radius(parts) + 1e-9
    return Columns(under.places[inside], under.surface[inside], under.far[inside], under.behind[inside])


def _bottom(under: Columns, parts: PortParts, frame: Floats, key: str) -> float:
    """Height at which the bore's cutter ends: in the first hollow behind the wall.

    Raises
    ------
    DoesNotFit : the hollow is too narrow.
    """
    bored = _bored(under, parts)
    opens, beyond = float(bored.far.min()), float(bored.behind.max())
    room = opens - beyond
    if room < 2.0 * _LEAST_BREAK_MM:
        at = int(np.argmax(bored.behind))
        raise DoesNotFit(
            "The hollow behind the wall is too narrow for the bore: it would cut what lies behind.",
            Where(
                "port", point=plain_point(frame[:3, 3] + frame[:3, :3] @ [*bored.places[at], beyond]), key=key
            ),
            "Square the axis to the wall, take a smaller bore, or choose another place.",
        )
    return opens - min(_BREAK_MM, 0.5 * room)


def _bore_to(parts: PortParts, bottom: float) -> Solid:
    """The bore's cutter, ending at a height of the port frame."""
    radius, box = _bore_radius(parts), parts.bore.mesh.bounds
    low, wide = float(box[0, 2]), 2.0 * float(box[1, 0])
    if bottom < low:
        start = float(parts.boss.mesh.bounds[0, 2])
        return union("port bore", parts.bore, cylinder(radius, bottom, max(start - 1.0, low + 1.0), "bore"))
    return difference("port bore", parts.bore, cylinder(wide, low - ROOT_MM, bottom, "beyond the bore"))
