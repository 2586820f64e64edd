"""Further ports: where their axis leaves the chamber wall, and how much of their boss stays."""

from __future__ import annotations

import numpy as np

from ..errors import DoesNotFit, Where
from ..hardware.ports import PortParts
from ..mesh import Floats, TriMesh
from ..solids.boolean import Solid, difference, main_piece
from .shell import Shell, side_mesh

_RIM_RAYS = 24  # directions round the boss in which its distance to the wall is felt


def side_port_frame(shell: Shell, aim: Floats, parts: PortParts, number: int) -> Floats:
    """The frame of a further port: on the axis of ``aim``, sunk until its whole boss stands on the wall.

    Parameters
    ----------
    shell : band and wall.
    aim : 4x4 frame whose +Z is the wanted axis and whose origin lies inside the chamber.
    parts : the port.
    number : which port, for messages.

    Raises
    ------
    DoesNotFit : the axis or the rim of the boss misses the wall.
    """
    wall = side_mesh(shell.outer_side[:, np.flatnonzero(shell.wall)])
    angle = 2.0 * np.pi * np.arange(_RIM_RAYS) / _RIM_RAYS
    ring = parts.boss_radius_mm * np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=1)
    start = np.vstack([np.zeros((1, 3)), ring]) @ aim[:3, :3].T + aim[:3, 3]
    axis = aim[:3, 2]
    depth = np.array([_furthest_hit(wall, origin, axis) for origin in start])
    missed = np.flatnonzero(np.isnan(depth))
    if len(missed):
        x, y, z = start[missed[0]]
        raise DoesNotFit(
            f"Port {number} (boss radius {parts.boss_radius_mm:.0f} mm) misses the chamber wall on "
            f"{len(missed)} of {len(start)} sides.",
            Where(f"port {number}", point=(float(x), float(y), float(z)), key=f"recipe.ports[{number - 1}]"),
            "Turn or tilt it towards the middle of the wall, or choose a smaller port.",
        )
    frame = aim.copy()
    frame[:3, 3] = aim[:3, 3] + axis * float(depth.min())
    return frame


def outside_only(boss: Solid, inside: Solid) -> Solid:
    """A boss without what would stand inside the wall.

    Raises
    ------
    BooleanFailed : most of it would.
    """
    return main_piece(difference(boss.role, boss, inside), 0.5)


def _furthest_hit(mesh: TriMesh, origin: Floats, direction: Floats) -> float:
    """Distance in mm to the furthest triangle a ray meets (Moeller and Trumbore 1997), or NaN."""
    c = mesh.corners
    e1, e2 = c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]
    p = np.cross(direction, e2)
    det = (e1 * p).sum(1)
    with np.errstate(divide="ignore", invalid="ignore"):
        t0 = origin - c[:, 0]
        u = (t0 * p).sum(1) / det
        q = np.cross(t0, e1)
        v = (q @ direction) / det
        t = (e2 * q).sum(1) / det
    hit = (np.abs(det) > 1e-12) & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0)
    return float(t[hit].max()) if hit.any() else float("nan")
