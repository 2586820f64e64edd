"""The air of the chamber: as a solid, or its volume from the rays of the chart while nothing is solid yet."""

from __future__ import annotations

import numpy as np

from ..face.surface import FaceSurface
from ..facepiece.body import chamber_void
from ..facepiece.shell import Shell, grid_quads, quads_to_triangles
from ..mesh import Floats
from ..solids.boolean import Solid
from .context import Context


def air_stage(context: Context, shell: Shell) -> tuple[Solid | None, float]:
    """The chamber's air as a solid (None for a sketch), and its volume at rest, ml."""
    face = context.prepared.face
    if not context.quality.solids:
        return None, chamber_ml(face, shell.chamber_side)
    void = context.cache.call(chamber_void, face, shell.chamber_side)
    return void, void.volume / 1000.0


def chamber_ml(face: FaceSurface, rows: Floats) -> float:
    """Air between skin and chamber side (n, k, 3), ml, from the rays of the chart instead of solids.

    Sum over triangles of the chamber side of the solid angle seen from the chart's centre, times the
    difference of the cubes of the radii over three; the port is closed by a flat fan.
    """
    stations, count = rows.shape[:2]
    faces = quads_to_triangles(grid_quads(stations, count), stations)
    points = np.vstack([rows.reshape(-1, 3), rows[:, -1].mean(axis=0)[None]])
    rim = np.arange(stations) * count + count - 1
    fan = np.stack([np.full(stations, len(points) - 1), rim, np.roll(rim, -1)], axis=1)
    corners = points[np.vstack([faces, fan])] - face.chart.centre
    angle = _solid_angle(corners)
    # The side faces inwards or outwards as a whole; air is counted as positive.
    angle *= np.sign(angle.sum())
    outer = np.linalg.norm(corners, axis=2).mean(axis=1)
    inner = face.radius_at(face.chart.place_of(points[np.vstack([faces, fan])].mean(axis=1))[0])
    return float((angle * (outer**3 - inner**3)).sum() / 3.0 / 1000.0)


def _solid_angle(corners: Floats) -> Floats:
    """Signed solid angle (m,) of triangles (m, 3, 3) seen from the origin (Van Oosterom, Strackee 1983)."""
    a, b, c = np.moveaxis(corners, 1, 0)
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc
    below += (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return np.asarray(2.0 * np.arctan2(volume, below))
