"""Is a part sound: one piece, watertight, 2-manifold, outward, right genus, free of self-crossings?"""

from __future__ import annotations

from dataclasses import asdict, dataclass

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..errors import BadSolid, Where, first_point
from ..mesh import Ints, TriMesh, edge_use
from .crossings import crossing_pairs
from .grid import is_degenerate, snap_to_grid

_REPORT_KEYS = {
    "nonmanifold_edges": "crowded_edges",
    "inconsistent_edges": "turned_edges",
    "nonmanifold_vertices": "pinched_corners",
}
"""Keys of the report that stay what they were, so that reports of different versions can be compared."""


@dataclass(frozen=True)
class Soundness:
    """What was found on one part.

    Attributes
    ----------
    role : the part, in the maker's words.
    triangles : how many.
    pieces : pieces of the boundary surface (a closed void inside counts as one more).
    open_edges : edges with one triangle.
    nonmanifold_edges : edges with more than two triangles.
    inconsistent_edges : edges whose two triangles disagree on the outside.
    nonmanifold_vertices : vertices where separate fans of triangles meet.
    thin_triangles : triangles without area.
    crossings : pairs of triangles that meet beyond what they share; -1 when not looked for.
    volume_mm3 : signed volume.
    genus : number of through-holes of the surface; None when it is open or not a 2-manifold.
    expected_genus : what it should be; None when nothing was asked.
    places_mm : up to 20 points where something is wrong.
    """

    role: str
    triangles: int
    pieces: int
    open_edges: int
    nonmanifold_edges: int
    inconsistent_edges: int
    nonmanifold_vertices: int
    thin_triangles: int
    crossings: int
    volume_mm3: float
    genus: int | None
    expected_genus: int | None
    places_mm: tuple[tuple[float, float, float], ...]

    @property
    def faults(self) -> tuple[str, ...]:
        """One phrase for each thing wrong but the number of pieces, which may be the caller's business."""
        found = [
            f"{number} {name}"
            for number, name in (
                (self.open_edges, "open edges"),
                (self.nonmanifold_edges, "edges with more than two triangles"),
                (self.inconsistent_edges, "edges whose triangles are turned against each other"),
                (self.nonmanifold_vertices, "corners where two surfaces touch in a point"),
                (max(self.crossings, 0), "pairs of triangles that cross or touch"),
                (self.thin_triangles, "triangles without area"),
            )
            if number
        ]
        if self.volume_mm3 <= 0:
            found.append(f"a volume of {self.volume_mm3:.1f} mm3: it is inside out")
        if self.expected_genus is not None and self.genus is not None and self.genus != self.expected_genus:
            found.append(f"{self.genus} through-holes instead of {self.expected_genus}")
        return tuple(found)

    @property
    def problems(self) -> tuple[str, ...]:
        """One phrase for each thing wrong; empty when sound."""
        pieces = () if self.pieces == 1 else (f"{self.pieces} pieces instead of one",)
        return (*self.faults, *pieces)

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.problems

    def as_dict(self) -> dict[str, object]:
        """The findings for a JSON report."""
        facts = {_REPORT_KEYS.get(name, name): value for name, value in asdict(self).items()}
        return {**facts, "problems": list(self.problems), "sound": self.sound}


def soundness_of(
    mesh: TriMesh, role: str, expected_genus: int | None = None, look_for_crossings: bool = True
) -> Soundness:
    """Examine a part; nothing is raised for an unsound one.

    Parameters
    ----------
    mesh : the part, mm; touching triangles must share vertices by index.
    role : what it is, in the maker's words.
    expected_genus : number of through-holes it should have.
    look_for_crossings : False skips the slowest test (about 0.3 s for 100,000 triangles).
    """
    edges, forward, backward = edge_use(mesh.faces)
    use = forward + backward
    bad_edge = (forward != 1) | (backward != 1)
    pieces, nonmanifold = _pieces(mesh.faces, edges), _nonmanifold_vertices(mesh.faces)
    points, _ = snap_to_grid(mesh.vertices)
    thin = is_degenerate(*(points[mesh.faces[:, k]] for k in range(3)))
    pairs = crossing_pairs(mesh) if look_for_crossings else np.zeros((0, 2), dtype=np.int64)
    closed = not (use != 2).any()
    used = len(np.unique(mesh.faces))
    genus = (
        (2 * pieces - (used - len(edges) + len(mesh.faces))) // 2 if closed and not len(nonmanifold) else None
    )
    places = np.vstack(
        [
            mesh.vertices[edges[bad_edge][:20]].mean(axis=1),
            mesh.vertices[nonmanifold[:20]],
            mesh.corners[thin][:20].mean(axis=1),
            mesh.corners[pairs[:20, 0]].mean(axis=1),
        ]
    )
    return Soundness(
        role=role,
        triangles=len(mesh.faces),
        pieces=pieces,
        open_edges=int((use == 1).sum()),
        nonmanifold_edges=int((use > 2).sum()),
        inconsistent_edges=int(((use == 2) & bad_edge).sum()),
        nonmanifold_vertices=len(nonmanifold),
        thin_triangles=int(thin.sum()),
        crossings=len(pairs) if look_for_crossings else -1,
        volume_mm3=mesh.volume,
        genus=genus,
        expected_genus=expected_genus,
        places_mm=tuple(p for row in places[:20] if (p := first_point([row])) is not None),
    )


def require_sound(mesh: TriMesh, role: str, expected_genus: int | None = None) -> Soundness:
    """Examine a part and refuse it when it is not sound.

    Raises
    ------
    BadSolid : names every fault and the first place.
    """
    found = soundness_of(mesh, role, expected_genus)
    if not found.sound:
        raise BadSolid(
            f"The {role} is not a sound solid: it has " + ", ".join(found.problems) + ".",
            Where(role, point=first_point(found.places_mm)),
            "Undo the last change of shape there, or smooth or widen the part at that place.",
        )
    return found


def _pieces(faces: Ints, edges: Ints) -> int:
    """Number of pieces, counting triangles as joined when they share a vertex."""
    count = int(faces.max()) + 1
    joins = coo_matrix((np.ones(len(edges)), (edges[:, 0], edges[:, 1])), shape=(count, count))
    _, label = connected_components(joins, directed=False)
    return len(np.unique(label[faces[:, 0]]))


def _nonmanifold_vertices(faces: Ints) -> Ints:
    """Vertices whose triangles form more than one fan: fans are corners joined across edges."""
    m = len(faces)
    corner = np.arange(3 * m).reshape(m, 3)
    tail = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    at_tail = np.concatenate([corner[:, 0], corner[:, 1], corner[:, 2]])
    at_head = np.concatenate([corner[:, 1], corner[:, 2], corner[:, 0]])
    low, high = tail.min(axis=1).astype(np.int64), tail.max(axis=1).astype(np.int64)
    at_low = np.where(tail[:, 0] < tail[:, 1], at_tail, at_head)
    at_high = np.where(tail[:, 0] < tail[:, 1], at_head, at_tail)
    order = np.argsort(low * (int(faces.max()) + 1) + high, kind="stable")
    near = np.flatnonzero((np.diff(low[order]) == 0) & (np.diff(high[order]) == 0))
    i, j = order[near], order[near + 1]
    rows, columns = np.concatenate([at_low[i], at_high[i]]), np.concatenate([at_low[j], at_high[j]])
    joins = coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(3 * m, 3 * m))
    fans, label = connected_components(joins, directed=False)
    owner = np.empty(fans, dtype=faces.dtype)
    owner[label] = faces.ravel()
    vertex, times = np.unique(owner, return_counts=True)
    return np.asarray(vertex[times > 1])
