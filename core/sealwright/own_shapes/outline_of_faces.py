"""The border of chosen triangles of a scan as outline and holes: what was painted or selected."""

from __future__ import annotations

import igl
import numpy as np
from numpy.typing import NDArray

from ..errors import BadOutline, Where, plain_point
from ..facepiece.closed_curve import arc_lengths, resampled, smoothed_round
from ..mesh import Floats, Ints, TriMesh
from ..scan.repair.weld import merge_equal_vertices
from .outline_file import DrawnLines

_SPACING_MM = 6.0  # between points of a line
_LEAST_POINTS = 12
_EVEN_MM = 0.5  # steps at which the teeth of a border are smoothed
_SPECK_MM = 15.0  # a hole with a shorter border is a triangle that the brush left out
_SPECK_SHARE = 0.02  # of the chosen triangles: a piece so small is one that the brush touched by chance


def outline_of_faces(mesh: TriMesh, chosen: NDArray[np.int64]) -> DrawnLines:
    """The lines round chosen triangles: the longest is the outline, the others are holes.

    A border of triangles is toothed; it is smoothed along by one mean edge of its own, which makes a circle
    of three edges' radius smaller by a twentieth.

    Parameters
    ----------
    mesh : the scan, mm.
    chosen : (k,) numbers of triangles.

    Raises
    ------
    BadOutline : nothing is chosen, it lies in several pieces, or it has no border.
    """
    mesh = TriMesh(*merge_equal_vertices(mesh.vertices, mesh.faces))
    faces = mesh.faces[_main_piece(mesh, np.asarray(chosen))]
    loops = [mesh.vertices[loop] for loop in _border_loops(mesh, faces)]
    loops.sort(key=lambda points: -arc_lengths(points)[-1])
    if not loops:
        raise BadOutline(
            "The chosen faces have no border.",
            Where("outline", point=plain_point(mesh.vertices[faces[0, 0]])),
            "Choose a part of the skin, not all of it.",
        )
    outline, *holes = loops
    kept = [hole for hole in holes if arc_lengths(hole)[-1] > _SPECK_MM]
    return DrawnLines(_even(outline), tuple(_even(hole) for hole in kept))


def _main_piece(mesh: TriMesh, chosen: NDArray[np.int64]) -> NDArray[np.int64]:
    """The numbers of the chosen triangles without specks beside them."""
    if not len(chosen):
        raise BadOutline(
            "No face of the scan is chosen.",
            Where("outline"),
            "Select the faces under the shape in the scan's edit mode, or paint a vertex group.",
        )
    _, piece = igl.facet_components(mesh.faces[chosen].astype(np.int64))
    count = np.bincount(piece)
    large = np.flatnonzero(count > _SPECK_SHARE * len(chosen))
    if len(large) > 1:
        other = chosen[np.flatnonzero(piece == large[np.argsort(-count[large])][1])[0]]
        raise BadOutline(
            f"The chosen faces lie in {len(large)} pieces.",
            Where("outline", point=plain_point(mesh.corners[other].mean(axis=0))),
            "Choose one connected part of the skin; holes in it may be left out.",
        )
    return np.asarray(chosen[piece == int(np.argmax(count))])


def _border_loops(mesh: TriMesh, faces: Ints) -> list[Ints]:
    """Closed border loops of triangles (m, 3), each as vertex numbers in order.

    From the end of one border edge the next one is reached by turning about their vertex within the
    triangles.
    """
    third = {(int(f[k]), int(f[(k + 1) % 3])): int(f[(k + 2) % 3]) for f in faces for k in range(3)}
    border = {edge for edge in third if edge[::-1] not in third}
    loops = []
    while border:
        edge = start = min(border)
        loop: list[int] = []
        while not loop or edge != start:
            if edge not in border:
                raise _unclean(mesh, edge)
            border.discard(edge)
            loop.append(edge[0])
            edge = _onward(mesh, third, edge)
        loops += [np.array(one) for one in _simple(loop)]
    return loops


def _simple(loop: list[int]) -> list[list[int]]:
    """A loop cut into several where it passes a vertex again: holes that touch in a corner."""
    found: list[list[int]] = []
    way: list[int] = []
    for vertex in loop:
        if vertex in way:
            first = way.index(vertex)
            found.append(way[first:])
            way = way[:first]
        way.append(vertex)
    return [*found, way]


def _onward(mesh: TriMesh, third: dict[tuple[int, int], int], edge: tuple[int, int]) -> tuple[int, int]:
    """The border edge after one, round the vertex where it ends."""
    first = edge
    for _ in range(len(third)):
        edge = (edge[1], third[edge])
        if edge[::-1] not in third:
            return edge
        edge = edge[::-1]
    raise _unclean(mesh, first)


def _unclean(mesh: TriMesh, edge: tuple[int, int]) -> BadOutline:
    return BadOutline(
        "The faces of the scan are turned against each other there, so they have no border to follow.",
        Where("outline", point=plain_point(mesh.vertices[edge[0]])),
        "Recalculate the normals of the scan, or draw the outline instead.",
    )


def _even(loop: Floats) -> Floats:
    """A toothed loop (n, 3) as smooth points (k, 3) at even distances."""
    arc = arc_lengths(loop)
    tooth = arc[-1] / len(loop)
    count = max(int(arc[-1] / min(_EVEN_MM, 0.25 * tooth)), 48)
    smooth = smoothed_round(resampled(loop, arc, count), tooth / (arc[-1] / count))
    arc = arc_lengths(smooth)
    return resampled(smooth, arc, max(int(arc[-1] / _SPACING_MM), _LEAST_POINTS))
