"""The closed lines along which a trimmed mesh meets the skin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..face.surface import FaceSurface
from ..facepiece.closed_curve import arc_lengths, crossings, resampled, smoothed_round
from ..facepiece.skin_walk import folded_cells, right_of, walked
from ..mesh import Bools, Floats, TriMesh, at_all_corners
from ..solids.boolean import Solid
from ..solids.distance import MeshDistance

_ON_MM = 1e-4  # corners of a trimmed mesh lie on what trimmed it within far less
_SPACING_MM = 1.0
_EVEN_MM = 6.0  # smoothing length of the skin that a line is walked away on
_SMOOTH_MM = (1.0, 2.0, 4.0, 7.0, 11.0)  # smoothing lengths that are tried where a moved line folds


def cut_by(mesh: TriMesh, cutter: Solid) -> Bools:
    """Triangles (m,) of a trimmed mesh that lie on the surface of what trimmed it."""
    distance = MeshDistance(cutter.mesh)
    on = at_all_corners(np.asarray(distance.to(mesh.vertices) < _ON_MM), mesh.faces)
    on[on] = distance.to(mesh.corners[on].mean(axis=1)) < _ON_MM
    return on


def contact_lines(mesh: TriMesh, cutter: Solid) -> tuple[Floats, ...]:
    """The border of the cut surface as closed lines (n, 3), that surface on their left; longest first.

    Parameters
    ----------
    mesh : trimmed.
    cutter : what trimmed it.
    """
    on = cut_by(mesh, cutter)
    if not on.any() or on.all():
        return ()
    faces = mesh.faces[on]
    directed = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    count = len(mesh.vertices)
    forward, backward = directed @ [count, 1], directed @ [1, count]
    border = directed[~np.isin(forward, backward)]
    following: dict[int, list[int]] = {}
    for start, end in border.tolist():
        following.setdefault(start, []).append(end)
    lines = []
    while following:
        start = next(iter(following))
        here, line = start, [start]
        while True:
            ways = following[here]
            here = ways.pop()
            if not ways:
                del following[line[-1]]
            if here == start or here not in following:
                break
            line.append(here)
        lines.append(mesh.vertices[line[::-1]])  # seen from outside the face, its mesh looks inwards
    return tuple(sorted(lines, key=lambda one: -float(arc_lengths(one)[-1])))


def even_ways(face: FaceSurface, line: Floats, smooth_mm: float = 2.0) -> tuple[Floats, Floats, Floats]:
    """Even points (n, 3) on a line, unit ways (n, 3) to its right along the skin, and away from the skin."""
    arc = arc_lengths(line)
    count = max(int(arc[-1] / _SPACING_MM), 24)
    points = resampled(line, arc, count)
    points = smoothed_round(points, smooth_mm / (arc[-1] / count))
    return (points, *right_of(replace(face, feather_mm=_EVEN_MM), points))


def moved_off(face: FaceSurface, line: Floats, distance_mm: float) -> Floats | None:
    """A line moved to its right along the skin (n, 3); None where it folds however much it is smoothed."""
    even = replace(face, feather_mm=_EVEN_MM)
    for smooth in _SMOOTH_MM:
        points, out, _ = even_ways(face, line, smooth)
        rows = walked(even, points, out, distance_mm, max(int(np.ceil(distance_mm)), 2))
        pq, _ = face.chart.place_of(rows)
        if not folded_cells(pq).any() and not crossings(pq[:, -1]).any():
            return face.drop_on_skin(rows[:, -1])
    return None
