"""Clean a scan: doubles, degenerate triangles, fins, turned patches, islands, spikes; each counted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ...errors import ClosedSolid, NoSurface, Remark, Where
from ...limits import limit
from ...mesh import Bools, TriMesh
from .bad_faces import degenerate_faces, duplicate_faces, fin_faces
from .edge_graph import EdgeGraph, edge_graph, twice_areas
from .seams import welded_borders
from .spikes import Indices, without_spikes
from .weld import merge_equal_vertices
from .winding import turned_faces

ISLAND_MM2 = 100.0
"""Pieces smaller than this, about 10 mm across, are dropped: nothing can be sealed on them."""


PLACES = 300
"""So many changed places are remembered."""


@dataclass(frozen=True)
class CleanReport:
    """What was changed, as counts.

    Attributes
    ----------
    merged_vertices : vertices that lay on another one, or along an open seam of another patch.
    degenerate_faces, duplicate_faces, fin_faces : triangles dropped.
    turned_faces : triangles turned round.
    islands, island_faces : small pieces dropped, and their triangles.
    spikes : vertices pulled back to their neighbours.
    largest_spike_mm : the farthest any vertex was moved.
    spike_places : where they stand now, (x, y, z) mm in the scan's axes; at most a few hundred.
    crowded_edges : edges of more than two triangles that remain.
    one_sided_edges : edges where no winding fits both neighbours (as on a Moebius strip).
    pieces : connected pieces that remain.
    closed : no free border remains.
    """

    merged_vertices: int = 0
    degenerate_faces: int = 0
    duplicate_faces: int = 0
    fin_faces: int = 0
    turned_faces: int = 0
    islands: int = 0
    island_faces: int = 0
    spikes: int = 0
    largest_spike_mm: float = 0.0
    spike_places: tuple[tuple[float, float, float], ...] = ()
    nonmanifold_edges: int = 0
    one_sided_edges: int = 0
    pieces: int = 1
    closed: bool = False

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """The counts as sentences; nothing for what did not happen."""
        said = [
            (self.merged_vertices, "note", "{} vertices on the place of another were merged."),
            (self.degenerate_faces, "note", "{} triangles without area were dropped."),
            (self.duplicate_faces, "note", "{} double triangles were dropped."),
            (self.fin_faces, "note", "{} triangles of fins were dropped."),
            (self.turned_faces, "warning", "{} triangles were wound against their neighbours and turned."),
            (self.islands, "note", f"{{}} loose islands ({self.island_faces} triangles) were dropped."),
            (self.spikes, "note", f"{{}} spikes (up to {self.largest_spike_mm:.1f} mm) were pulled back."),
            (self.nonmanifold_edges, "warning", "{} edges still have more than two triangles."),
            (self.one_sided_edges, "warning", "{} edges have no winding that fits both sides."),
        ]
        where = Where("scan", frame="scan")
        spikes = replace(where, spots=self.spike_places)
        return tuple(
            Remark(level, text.format(count), spikes if "spikes" in text else where)
            for count, level, text in said
            if count
        )


def clean(mesh_mm: TriMesh) -> tuple[TriMesh, CleanReport]:
    """Clean a scan without filling or smoothing anything.

    Parameters
    ----------
    mesh_mm : the scan, mm, any pose.

    Returns
    -------
    mesh, report : the cleaned scan (the same object where nothing was to do) and what was changed.

    Raises
    ------
    NoSurface : no triangle with area is left.
    ClosedSolid : a closed thin shell, see `refuse_thin_shell`.
    """
    mesh, graph, report = _without_bad_faces(mesh_mm)
    turn, one_sided = turned_faces(mesh, graph)
    if turn.any():
        faces = np.where(turn[:, None], mesh.faces[:, ::-1], mesh.faces)
        mesh = TriMesh(mesh.vertices, np.ascontiguousarray(faces))
    mesh, graph, islands, island_faces, pieces = _without_islands(mesh, graph)
    mesh, spikes, largest = without_spikes(mesh, graph)
    report = replace(
        report,
        turned_faces=int(turn.sum()),
        one_sided_edges=one_sided,
        islands=islands,
        island_faces=island_faces,
        spikes=len(spikes),
        largest_spike_mm=largest,
        spike_places=_places(mesh, spikes[:PLACES]),
        nonmanifold_edges=int(graph.nonmanifold.sum()),
        pieces=pieces,
        closed=not bool(graph.border.any()),
    )
    refuse_thin_shell(mesh, report)
    return mesh, report


def _places(mesh: TriMesh, vertices: Indices) -> tuple[tuple[float, float, float], ...]:
    """Some vertices (k,) as plain points, mm."""
    return tuple((x, y, z) for x, y, z in mesh.vertices[vertices].tolist())


def _without_bad_faces(mesh: TriMesh) -> tuple[TriMesh, EdgeGraph, CleanReport]:
    """Merge equal vertices, drop degenerate and double triangles and fins, close seams."""
    before = len(mesh.vertices)
    vertices, faces = merge_equal_vertices(mesh.vertices, mesh.faces)
    merged = before - len(vertices)
    if merged:
        mesh = TriMesh(vertices, faces)
    mesh, degenerate = _dropped(mesh, degenerate_faces(mesh))
    graph = edge_graph(mesh)
    faces, sewn = welded_borders(mesh, graph)
    if sewn:
        mesh, collapsed = _dropped(
            TriMesh(mesh.vertices, faces), degenerate_faces(TriMesh(mesh.vertices, faces))
        )
        degenerate += collapsed
        graph = edge_graph(mesh)
    mesh, doubles = _dropped(mesh, duplicate_faces(mesh, graph))
    graph = edge_graph(mesh) if doubles else graph
    mesh, fins = _dropped(mesh, fin_faces(mesh, graph))
    graph = edge_graph(mesh) if fins else graph
    return mesh, graph, CleanReport(merged + sewn, degenerate, doubles, fins)


def _dropped(mesh: TriMesh, bad: Bools) -> tuple[TriMesh, int]:
    """The mesh without some triangles, and how many there were."""
    count = int(bad.sum())
    if count == 0:
        return mesh, 0
    if count == len(mesh.faces):
        raise NoSurface(
            "No triangle of the scan has any area.",
            Where("scan", frame="scan"),
            "Export the scan again as a surface with triangles.",
        )
    return mesh.submesh(~bad), count


def _without_islands(mesh: TriMesh, graph: EdgeGraph) -> tuple[TriMesh, EdgeGraph, int, int, int]:
    """Drop small pieces; the largest always stays."""
    pieces, label = graph.pieces()
    of_face = label[mesh.faces[:, 0]]
    number = np.bincount(of_face, minlength=pieces)
    if (number > 0).sum() == 1:
        return mesh, graph, 0, 0, 1
    area = 0.5 * np.bincount(of_face, twice_areas(mesh), minlength=pieces)
    small = (area < ISLAND_MM2) & (number > 0)
    small[int(np.argmax(area))] = False
    islands, kept = int(small.sum()), int(((number > 0) & ~small).sum())
    if islands == 0:
        return mesh, graph, 0, 0, kept
    mesh = mesh.submesh(~small[of_face])
    return mesh, edge_graph(mesh), islands, int(number[small].sum()), kept


def refuse_thin_shell(mesh_mm: TriMesh, report: CleanReport) -> None:
    """Refuse a closed shell: a face that was already given a thickness has no single skin to design on.

    A closed head is fine, since its outside is skin; a shell is told by having little volume for its area.

    Raises
    ------
    ClosedSolid : the scan is closed and on average less than 12 mm thick.
    """
    if not report.closed or report.pieces != 1:
        return
    thickness = 2.0 * abs(mesh_mm.volume) / mesh_mm.area
    if thickness < limit("scan_shell_thickness").value:
        raise ClosedSolid(
            f"The scan is a closed shell about {thickness:.1f} mm thick, not the surface of a face.",
            Where("scan", frame="scan"),
            "Give the scan as the sensor made it, open at the back, before it was thickened.",
        )
