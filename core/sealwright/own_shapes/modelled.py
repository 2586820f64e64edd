"""A closed mesh that the maker modelled, as a solid: mended where that is safe and said, else refused."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..errors import BadSolid, Where, first_point, plain_point
from ..mesh import Floats, Ints, TriMesh, edge_use
from ..scan.repair.bad_faces import duplicate_faces
from ..scan.repair.edge_graph import edge_graph
from ..scan.repair.weld import merge_equal_vertices
from ..scan.repair.winding import turned_faces
from ..solids.boolean import Solid, difference, pieces, solid_of, union
from ..solids.crossings import crossing_pairs

MOST_PIECES = 60
_LOOKED_AT = 200  # points of a surface that tell whether it lies in another
"""More overlapping pieces than this are refused: nobody means them."""


@dataclass(frozen=True, eq=False)
class Modelled:
    """A solid and what was mended to make it one, in sentences."""

    solid: Solid
    mended: tuple[str, ...] = ()


def modelled_solid(mesh: TriMesh, role: str = "model") -> Modelled:
    """The solid of a closed mesh.

    Parameters
    ----------
    mesh : any units; triangles that touch share points by place.
    role : what it is, for messages.

    Raises
    ------
    BadSolid : it is open, has edges with more than two triangles, crosses itself, or is in separate pieces.

    Mended and said: double triangles, triangles and whole pieces that are turned inside out, and
    closed pieces that overlap, which are united.
    """
    told: list[str] = []
    mesh = _tidied(mesh, role, told)
    _require_closed(mesh, role)
    graph = edge_graph(mesh)
    turned, one_sided = turned_faces(mesh, graph)
    if one_sided:
        raise _refused(role, "has no inside: its surface is one-sided", mesh.vertices[0], "Model it again.")
    if turned.any() and not turned.all():
        faces = mesh.faces.copy()
        faces[turned] = faces[turned][:, ::-1]
        mesh = TriMesh(mesh.vertices, faces)
        told.append(f"{int(turned.sum())} triangles of the {role} were turned round.")
    parts = _parts(mesh)
    if len(parts) > MOST_PIECES:
        what = f"is in {len(parts)} separate surfaces"
        raise _refused(role, what, parts[1].vertices[0], "Join them into one closed shape.")
    return Modelled(_united(parts, role, told), tuple(told))


def _refused(role: str, what: str, point: Floats, fix: str) -> BadSolid:
    return BadSolid(f"The {role} {what}.", Where(role, point=plain_point(point)), fix)


def _tidied(mesh: TriMesh, role: str, told: list[str]) -> TriMesh:
    """Without equal points, faces that are a line, and doubles."""
    mesh = TriMesh(*merge_equal_vertices(mesh.vertices, mesh.faces))
    a, b, c = mesh.faces.T
    nothing = (a == b) | (b == c) | (c == a)
    if nothing.all():
        raise _refused(role, "has no faces", mesh.vertices[0], "Give a closed surface of triangles.")
    if nothing.any():
        mesh = mesh.submesh(~nothing)
    double = duplicate_faces(mesh, edge_graph(mesh))
    if double.any():
        told.append(f"{int(double.sum())} faces of the {role} that lay on others were dropped.")
        mesh = mesh.submesh(~double)
    return mesh


def _require_closed(mesh: TriMesh, role: str) -> None:
    edges, forward, backward = edge_use(mesh.faces)
    use = forward + backward
    for bad, what, fix in (
        (use == 1, "is open", "Close its holes, as with Fill or Solidify."),
        (use > 2, "has edges where more than two faces meet", "Take away the inner faces there."),
    ):
        if bad.any():
            places = mesh.vertices[edges[bad]].mean(axis=1)
            raise _refused(role, f"{what}: {int(bad.sum())} edges", places[0], fix)


def _parts(mesh: TriMesh) -> list[TriMesh]:
    """The connected surfaces of a mesh, largest first by the volume they enclose."""
    count = len(mesh.vertices)
    first, second = mesh.faces[:, [0, 1]].ravel(), mesh.faces[:, [1, 2]].ravel()
    joins = coo_matrix((np.ones(len(first)), (first, second)), shape=(count, count))
    number, label = connected_components(joins, directed=False)
    owner = label[mesh.faces[:, 0]]
    found = [mesh.submesh(owner == one) for one in range(number) if (owner == one).any()]
    return sorted(found, key=lambda part: -abs(part.volume))


def _united(parts: list[TriMesh], role: str, told: list[str]) -> Solid:
    """One solid of closed surfaces: overlapping ones are united, those that bound a hollow are kept so."""
    for part in parts:
        _require_uncrossed(part, role)
    depth = [_depth(part, parts) for part in parts]
    flipped = 0
    outer, hollow = [], []
    for part, deep in zip(parts, depth, strict=True):
        inside_out = part.volume < 0.0
        if deep % 2 and inside_out:
            hollow.append(solid_of(part.flipped(), role))
            continue
        flipped += inside_out
        outer.append(solid_of(part.flipped() if inside_out else part, role))
    if flipped:
        told.append(f"The {role} was inside out; its faces were turned round.")
    whole = outer[0] if len(outer) == 1 else union(role, *outer)
    if len(outer) > 1:
        told.append(f"{len(outer)} closed pieces of the {role} were united.")
    if hollow:
        whole = difference(role, whole, *hollow)
    apart = pieces(whole)
    solids = [piece for piece in apart if piece.volume > 0.0]
    if len(solids) > 1:
        at = first_point(solids[1].mesh.vertices[:1])
        raise BadSolid(
            f"The {role} is in {len(solids)} pieces that do not touch.",
            Where(role, point=at),
            "Join them into one shape, or give them one by one.",
        )
    return whole.named(role)


def _require_uncrossed(part: TriMesh, role: str) -> None:
    pairs: Ints = crossing_pairs(part).astype(np.int32)
    if len(pairs):
        middle = part.corners[pairs[0, 0]].mean(axis=0)
        raise _refused(
            role,
            f"crosses itself: {len(pairs)} pairs of faces",
            middle,
            "Remesh it there, or build it of closed pieces: such pieces are united.",
        )


def _depth(part: TriMesh, parts: list[TriMesh]) -> int:
    """How many of the other surfaces a surface lies in altogether, by winding numbers of its points.

    One that only reaches into another overlaps it.
    """
    import igl

    points = part.vertices[:: max(len(part.vertices) // _LOOKED_AT, 1)]
    around = 0
    for other in parts:
        low, high = other.bounds
        if other is part or (part.bounds[0] < low).any() or (part.bounds[1] > high).any():
            continue
        vertices, faces = np.asarray(other.vertices), np.asarray(other.faces, dtype=np.int64)
        around += bool((np.abs(igl.winding_number(vertices, faces, points)) > 0.5).all())
    return around
