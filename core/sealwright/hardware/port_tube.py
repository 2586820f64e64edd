"""The tube that joins a port to a wall it stands on, and how far out of the wall it must stand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..mesh import Floats
from ..solids.boolean import union
from ..solids.primitives import cylinder
from .holder_layout import HOLDER_ROOM_MM, HolderLayout
from .port_parts import BORE_REACH_MM, THROAT_LIP_MM, PortParts

TUBE_MM = 2.0  # its wall: five lines
TALLEST_MM = 24.0  # of the tube on the wall: more is a lever and dead air
ROOT_MM = 1.2  # how deep it goes into the wall at its lowest place
MATE_MM = 4.0  # round a boss that carries no holder
_IN_WALL_MM = 0.4  # how deep the boss itself must reach below the lowest place of the wall
_OFF_MM = 0.5  # between what is screwed on and the wall
_FAR_SIDE_MM = 40.0  # so far behind the port lies the far side of the body, which is not meant


def on_tube(parts: PortParts, flank_mm: float) -> PortParts:
    """A port with the tube that joins it to the wall, and its bore through it.

    Parameters
    ----------
    flank_mm : from the origin of the port down to the lowest place of the wall under it.
    """
    bore, low = parts.seat_radius_mm - THROAT_LIP_MM, -flank_mm - ROOT_MM
    start = float(parts.boss.mesh.bounds[0, 2])
    foot = None
    if -flank_mm < start + _IN_WALL_MM:  # else the boss itself reaches into the wall all round
        foot = cylinder(tube_radius_mm(parts), min(low, start), start + 0.5, "port foot")
    through = cylinder(bore, min(low, start) - BORE_REACH_MM - 4.0, start - 1.0, "bore")
    return replace(parts, foot=foot, bore=union("port bore", parts.bore, through), tube_mm=flank_mm)


def tube_radius_mm(parts: PortParts) -> float:
    """Outer radius of the tube under a port."""
    return parts.seat_radius_mm + TUBE_MM


def wall_needs_mm(frame: Floats, parts: PortParts, holder: HolderLayout | None, body: Floats) -> float:
    """How much further out a port must stand for what it carries to clear a body, mm; negative with room.

    Parameters
    ----------
    frame : 4x4 of the port.
    holder : layout of its holder; None without one.
    body : (n, 3) points of the body's outer side.
    """
    ahead = body[(body - frame[:3, 3]) @ frame[:3, 2] > -_FAR_SIDE_MM]
    if holder is not None:
        return holder_needs_mm(frame, ahead, holder, _OFF_MM)
    worn = max((float(extra.mesh.bounds[1, 0]) for extra in parts.extra), default=0.0)
    radius = max(parts.boss_radius_mm + MATE_MM, worn + _OFF_MM)
    return round_needs_mm(frame, ahead, (radius, float(parts.keep_clear.mesh.bounds[0, 2])), _OFF_MM)


def round_needs_mm(frame: Floats, points: Floats, room: tuple[float, float], off: float) -> float:
    """How much further out a port must stand for a round room about its axis to keep off points, mm.

    Parameters
    ----------
    frame : 4x4 of the port.
    points : (n, 3).
    room : its radius, and its lower end in the frame.
    off : wanted between that end and the points.
    """
    local = (points - frame[:3, 3]) @ frame[:3, :3]
    under = np.hypot(local[:, 0], local[:, 1]) < room[0]
    return float((local[under, 2] - room[1] + off).max(initial=-np.inf))


def holder_needs_mm(frame: Floats, points: Floats, holder: HolderLayout, off: float) -> float:
    """How much further out the holder must stand to keep off points by ``off`` mm."""
    local = (points - frame[:3, 3]) @ frame[:3, :3]
    across = np.hypot(local[:, 0], local[:, 1])
    rim, cap = holder.seat.reach_mm() + HOLDER_ROOM_MM, holder.skirt_radius
    low = np.where(across < cap + off, holder.z_out - holder.top, holder.z_out - holder.back)
    under = across < rim + off
    return float((local[under, 2] - low[under] + off).max(initial=-np.inf))
