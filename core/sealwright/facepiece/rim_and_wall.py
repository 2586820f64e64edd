"""The shell in two solids, the rim on the skin and the wall behind it, and how they become one.

Only the rim is trimmed by the face: its boolean meets half of the triangles, and a change of the wall leaves
the trimmed rim as it is. Between the two lies a ring, a closed strip across the shell that both have in
common, triangle by triangle; without it they are one shell.
"""

from __future__ import annotations

import numpy as np

from ..mesh import Bools, Floats, Ints, TriMesh, at_all_corners
from ..solids.boolean import Solid, solid_of
from .shell import Shell, closed_profile


def ring_between(shell: Shell, row: int) -> Floats:
    """Corners (2 n, 3) of the ring at a row of the shell: those on the face side, then on the outer side."""
    return np.concatenate([shell.face_side[:, row], shell.outer_side[:, row]])


def rim_profile(shell: Shell, row: int) -> Floats:
    """Profiles (n, k, 3) of the rim: from the ring at a row up the outer side, round the edge and back."""
    outer, face_side = shell.outer_side[:, : row + 1], shell.face_side[:, : row + 1]
    return np.concatenate([outer[:, ::-1], shell.edge, face_side], axis=1)


def rim_solid(profile: Floats) -> Solid:
    """The shell from its free edge to the ring, see `rim_profile`; it still reaches below the skin.

    Raises
    ------
    BadSolid : it crosses itself.
    """
    # The ring lies between last and first, in the wall between two points amid the profile.
    return solid_of(closed_profile(profile, turn_last=True), "rim")


def wall_mesh(shell: Shell, row: int) -> TriMesh:
    """The shell from the ring at a row to its end in the port, closed."""
    profile = [shell.outer_side[:, row:][:, ::-1], shell.face_side[:, row:]]
    return closed_profile(np.concatenate(profile, axis=1))


def joined_at_ring(rim: TriMesh, wall: TriMesh, ring: Floats) -> Solid | None:
    """Rim and wall as one shell; None where something cut or covered the ring.

    Parameters
    ----------
    rim, wall : closed surfaces that meet in the ring and nowhere else.
    ring : (2 n, 3) its corners.

    Raises
    ------
    BadSolid : they do not make a closed surface.
    """
    in_rim, in_wall = _places(rim, ring), _places(wall, ring)
    if in_rim is None or in_wall is None:
        return None
    on_rim, on_wall = _ring_faces(rim, in_rim), _ring_faces(wall, in_wall)
    if on_rim.sum() != len(ring) or on_wall.sum() != len(ring):
        return None
    place = np.arange(len(wall.vertices), dtype=np.int32) + len(rim.vertices)
    place[in_wall] = in_rim
    vertices = np.concatenate([rim.vertices, wall.vertices])
    faces = np.concatenate([rim.faces[~on_rim], place[wall.faces[~on_wall]]])
    return solid_of(TriMesh(vertices, faces).submesh(np.ones(len(faces), dtype=bool)), "body shell")


def _places(mesh: TriMesh, points: Floats) -> Ints | None:
    """Vertices (n,) of a mesh at exactly these points (n, 3); None where one is missing or there twice."""
    some = np.flatnonzero(np.isin(mesh.vertices[:, 0], points[:, 0]))
    found = dict(zip(map(tuple, mesh.vertices[some].tolist()), some.tolist(), strict=True))
    places = [found.get(tuple(point), -1) for point in points.tolist()]
    if min(places) < 0 or len(set(places)) < len(places):
        return None
    return np.array(places, dtype=np.int32)


def _ring_faces(mesh: TriMesh, ring: Ints) -> Bools:
    """Triangles (m,) of the ring: those with all three corners on it."""
    on = np.zeros(len(mesh.vertices), dtype=bool)
    on[ring] = True
    return at_all_corners(on, mesh.faces)
